"""The fixed texts of every document: cautions, boundary, methods, and each reader's question."""

from __future__ import annotations

READERS = ("director", "sustainability", "contractor")

QUESTIONS = {
    "director": "What is burning now, are control failures growing, and what comes next year?",
    "sustainability": "How much energy, money and CO2e went into day burning, and how sure is that?",
    "contractor": "What does it cost to go on repairing like for like, and does replacing with a rated control pay?",
}

TITLES = {
    "director": "Lighting controls: what is burning, what fails, what comes next",
    "sustainability": "Lighting controls: energy wasted by day burning",
    "contractor": "Lighting controls: the case for replacement",
}

BOUNDARY = (
    "Day burning that nobody reported is outside every figure here: the log holds only what somebody called in or a "
    "crew wrote down. The true amount is at least what was reported."
)

CAUTIONS = (
    "This document lists and prices work; it gives no electrical instructions.",
    "De-energise the circuit, lock it out and tag it, and verify that it is dead before touching a control, contactor "
    "or luminaire. A lamp that is off does not show a dead circuit: its control may switch it on at any time.",
    "Panels and contactors carry arc-flash and shock hazards: boundaries and protective equipment follow from the "
    "site's own study and rules.",
    "Poles, canopies and roofs are work at height; day-burning lamps and ballasts are hot.",
    "The work is for licensed electricians. Local codes and the authority having jurisdiction decide, also where this "
    "document says otherwise.",
)

METHODS = (
    (
        "From calls to incidents",
        "A call is a row of a work-order export, in its latest state. Its texts yield findings; findings of one fault "
        "at one place, duplicates and repeat visits included, are one incident. Whether the control itself failed is "
        "kept as a probability with the words that decided it. The expected count adds those probabilities; the hard "
        "count takes incidents at or above the stated threshold.",
    ),
    (
        "Lives",
        "A control's life counts from the age at which it could first have been seen to fail (delayed entry) to its "
        "failure or to the last day it was seen to work (censored). Where the load changed, the life is split there. "
        "Curves are Kaplan-Meier estimates (Kaplan and Meier 1958) with limits on the log-log scale; fits are Weibull "
        "by maximum likelihood with limits by profile likelihood. B10 is the age by which 10 % have failed. With few "
        "failures the shape is borrowed from the kind or stated, and only a lower limit is given. Findings of doubtful "
        "verdict, and which member of a batch failed, are drawn twenty times; fits are pooled by Rubin's rules (1987).",
    ),
    (
        "How far lives can be trusted",
        "Groups are compared by the log-rank test under delayed entry, pairs adjusted by Holm (1979); the Weibull is "
        "set beside three other distributions by AIC and checked by Cox-Snell residuals, with the verdicts as they "
        "stand, for draws suppose a Weibull. What shortens lives is a Weibull accelerated-life regression over the "
        "draws; an effect that changes with age, or that fewer than ten failures speak for, is not claimed. Repeat "
        "calls are mean cumulative numbers with robust limits (Lawless and Nadeau 1995), their trend Laplace's test "
        "by site.",
    ),
    (
        "Next twelve months",
        "Each control in service is aged through the next twelve months with the fitted life of its model and lamps, "
        "else of its kind, else of all. Controls of unknown age, or without a fitted life, are reckoned by their "
        "group's failures per control-year. What fails is replaced at once and may fail again; what has failed and is "
        "open is not at risk. The interval is for the number that will be seen: it holds chance and the uncertainty "
        "of the fits, drawn once for all sites, and supposes that controls go on living as they did.",
    ),
    (
        "Meters",
        "Day burning on a meter is a step of the load by day that the load's step at dusk and dawn confirms, found by "
        "exact partition of the daily loads (Jackson and others 2005). Its onset, end and energy replace what was "
        "assumed for the incident that reports it; what nobody called in stands beside the total. The detection delay "
        "can be estimated from meters and from rounds by day, with 90 % limits by profile likelihood.",
    ),
    (
        "Inrush",
        "The stress of a circuit is the sum of its drivers' peaks over the rated peak of the device that switches "
        "them; source-limited, with the supply's impedance (an assumption) before all drivers in parallel. A driver of "
        "unknown peak takes a default by its running current, from memory of NEMA 410, unverified, and is marked so.",
    ),
    (
        "Rates and growth",
        "Exact Poisson limits (Garwood 1936). Growth is a log-linear regression of monthly counts with a level for "
        "each calendar month, negative binomial where the counts vary more than Poisson.",
    ),
    (
        "Campaigns",
        "Failures since are compared with new controls of the old model on the same dates, by lives fitted to what was "
        "seen before. Sites' own records before it are shrunk towards all sites', so that a choice of bad sites is not "
        "taken for a merit (regression to the mean).",
    ),
    (
        "Wasted energy",
        "Excess hours are daylight hours between the onset and the end of an incident, at the site's own sunrise and "
        "sunset (solar position after Reda and Andreas, NREL/TP-560-34302) with the switching offsets below. Neither "
        "moment is known exactly: low, central and high are carried through to energy, money and emissions, and the "
        "lows and highs of all incidents are added as they stand, which makes the range wide. Load is the watts drawn "
        "by the fixtures in place on the day. Energy is priced by the local clock hours in which it burnt, by the "
        "tariff of the account that pays. Unmetered accounts cost energy and emissions, not money.",
    ),
    (
        "Emissions",
        "Location-based, as in the GHG Protocol Scope 2 Guidance: energy times the average factor of the grid where it "
        "is used, of the year in which it burnt. Market-based, beside it, where suppliers' factors are given. Grid "
        "losses are not Scope 2: where a rate is known they stand apart and are never added.",
    ),
    (
        "Replacement",
        "Failures over the study period follow from the fitted life and the present ages, renewal by renewal; each "
        "costs a visit, parts and the energy wasted until it is mended. Net savings, savings-to-investment ratio and "
        "payback are defined as in NIST Handbook 135, in constant money at a real discount rate. Limits come from the "
        "limits of the fitted lives, the present controls' and the rated ones', whose errors are taken as independent; "
        "a rated life that is assumed as a multiple of the present one moves with it. Prices, and the energy that a "
        "failure wastes, are taken as given.",
    ),
    (
        "Time to restore",
        "From the first report until the light worked again. Incidents still open at the log's end count as lasting "
        "at least that long (Kaplan-Meier); dropping them would make repairs look faster than they are.",
    ),
)
