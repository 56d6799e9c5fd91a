"""What failed: findings of calls, gathered into incidents."""

from __future__ import annotations

from textwrap import dedent

from pipeline.tables.schema import Table, columns, three

FINDINGS = Table(
    "findings", "tie", "a fault that a call reports or repairs", key=("finding_id",),
    columns=columns("""
    finding_id text! made from call_id and part number
    call_id text! the call
    part_number integer! 1 for the first fault of the call
    site_id text site
    site_match text how the site was found: id, name, alias, misspelling, address, tag, label, coordinates, decided, or empty
    control_id text control row
    position text place
    tie_method text how the place was found: tag, label, coordinates, kind, site, address, decided, or empty
    tie_confidence number 0 to 1
    symptom text! day burning, out, circuit out, cycling, dim, flicker, wrong time, damage or unknown
    component text! control, lamp, driver, wiring, supply, pole, other or unknown
    action text! replaced, reset, repaired, cleaned, bypassed, none found, referred, duplicate, planned or unknown
    cause text hand, bypass, building automation, covered eye, power outage, daylight saving, storm, vandalism …
    units integer! how many pieces
    share_of_lamps number share of the place's lamps that the fault concerns, over 0 to 1; null = not said (may be all)
    burning_shift_h number wrong time: hours a night that the lights burn outside their hours (on too early, off too late); null = not said
    dark_shift_h number wrong time: hours a night that they are dark within their hours (on too late, off too early); null = not said
    burning_edge text where burning_shift_h lies: on (before they should come on), off (after they should go off); null = not said which
    failed_probability number! probability that the control itself failed, 0 to 1
    rule text the rule of the verdict, as in verdict_rules
    evidence text the words that decided, the rule, and who decided otherwise
    incident_id text the incident it belongs to
    """),
)  # fmt: skip

INCIDENTS = Table(
    "incidents", "tie", "one fault at one place over all its calls, until the light works again", key=("incident_id",),
    columns=columns(dedent("""
    incident_id text! from its first finding
    decisive_finding_id text the finding that gives component, action and probability
    site_id text site
    control_id text control row
    position text place
    symptom text! as for findings
    component text! as for findings
    action text! the last decisive action
    failure_mode text fails on, fails off, erratic, or empty when the control did not fail
    failed_probability number! probability that the control failed, 0 to 1
    control_failed flag! failed_probability is at or above control_failed_threshold
    cause text cause where it was said
    units integer! controls concerned
    share_of_lamps number as for findings: from the first report of the incident's symptom that says one
    burning_shift_h number as for findings: from the first report of a shift
    dark_shift_h number as for findings, from the same report
    burning_edge text as for findings, from the same report
    first_reported_at time! first report
    """) + three("onset", "time", "when it began") + "\n" + three("restored", "time", "when the light worked again")
    + dedent("""
    is_open flag! not restored by the end of the log
    last_evidence_at time latest report or visit
    last_evidence text what that report or visit said
    calls integer! calls merged, duplicates included
    callbacks integer! visits for the same fault soon after a completed one
    no_fault_found flag! a visit found nothing wrong and nothing else was found
    flags texts stale order, batch closed …
    """)),
)  # fmt: skip
