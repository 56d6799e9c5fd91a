"""Months and weekdays by their names, and the SQL that puts a month's English short form in the place of another's.

Months in Spanish, French and German; weekdays in these and in English.
"""

from __future__ import annotations

# Names and usual short forms in upper case, with and without accents; those that are English too are not listed.
_NAMES = {
    "JAN": "ENERO ENE JANVIER JANV JANUAR JÄN JÄNNER",
    "FEB": "FEBRERO FÉVRIER FEVRIER FÉVR FEVR FÉV FEV FEBRUAR",
    "MAR": "MARZO MARS MÄRZ MAERZ MÄR MRZ",
    "APR": "ABRIL ABR AVRIL AVR",
    "MAY": "MAYO MAI",
    "JUN": "JUNIO JUIN JUNI",
    "JUL": "JULIO JUILLET JUIL JULI",
    "AUG": "AGOSTO AGO AOÛT AOUT",
    "SEP": "SEPTIEMBRE SETIEMBRE SET SEPTEMBRE",
    "OCT": "OCTUBRE OCTOBRE OKTOBER OKT",
    "NOV": "NOVIEMBRE NOVEMBRE",
    "DEC": "DICIEMBRE DIC DÉCEMBRE DECEMBRE DÉC DEZEMBER DEZ",
}
# The name of a weekday at a date's beginning, with what parts it from the date.
WEEKDAY = (
    r"^(?:(?:MON|TUE|TUES|WED|WEDNES|THU|THUR|THURS|FRI|SAT|SATUR|SUN)(?:DAY)?|LUNES|MARTES|MI[EÉ]RCOLES|JUEVES|VIERNES"
    r"|S[AÁ]BADO|DOMINGO|LUNDI|MARDI|MERCREDI|JEUDI|VENDREDI|SAMEDI|DIMANCHE|MONTAG|DIENSTAG|MITTWOCH|DONNERSTAG"
    r"|FREITAG|SAMSTAG|SONNTAG)[.,]{0,2} "
)
_ENGLISH = {name: month for month, names in _NAMES.items() for name in names.split()}
# A month between a day and a year: 4-ene-2024, 4. Juli 2024, 4 de mayo de 2024, juillet 4 2024.
MONTH_WORD = r"\b(" + "|".join(sorted(_ENGLISH, key=len, reverse=True)) + r")\b"


def english_month_sql(text: str) -> str:
    """SQL: an upper-case date's text with its month in English and without the Spanish "de"."""
    names = ", ".join(f"'{name}'" for name in _ENGLISH)
    months = ", ".join(f"'{month}'" for month in _ENGLISH.values())
    word = f"regexp_extract({text}, '{MONTH_WORD}', 1)"
    return f"replace(replace({text}, {word}, [{months}][list_position([{names}], {word})]), ' DE ', ' ')"
