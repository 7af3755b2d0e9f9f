"""Too little is checked too: little salt, nitrate alone, and a cure without nitrite that is warm or shut off from air.

Nothing here stops: it is practice and guidance. What was not entered is called unchecked.
"""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from labelsvc.curing.advice import advice
from labelsvc.curing.amounts import Ingoing, shown
from labelsvc.curing.salts import SODIUM_NITRATE, SODIUM_NITRITE
from labelsvc.rules.finding import Finding
from labelsvc.rules.load import PRACTICE, rules_of
from labelsvc.units import plain


def check_too_little(
    ingoing: Ingoing,
    on: dt.date,
    *,
    days: int | None = None,
    temperature_c: Decimal | None = None,
    is_sealed: bool | None = None,
) -> list[Finding]:
    """Return what may be too little, or wrong without nitrite.

    Args:
        ingoing: what goes in.
        on: the day whose rules count.
        days: how long it is in the cure, or None where nobody said.
        temperature_c: of the cure, degrees Celsius, or None.
        is_sealed: whether it lies in a bag shut off from air, or None.
    """
    findings = _check_salt(ingoing, on)
    if ingoing.as_salt(SODIUM_NITRITE) or ingoing.plants or ingoing.unchecked:
        return findings
    if ingoing.as_salt(SODIUM_NITRATE):
        return findings + _check_nitrate_alone(ingoing, on, days)
    return findings + _check_without_nitrite(on, temperature_c, is_sealed)


def _check_salt(ingoing: Ingoing, on: dt.date) -> list[Finding]:
    rule = rules_of(PRACTICE, on)["practice.salt.least"]
    salt = ingoing.salt_percent
    if salt is None:
        return [advice("curing.salt_unchecked", "Whether there is enough salt is unchecked: it must be measured")]
    if rule.value is None or salt >= rule.value:
        return []
    found = shown(salt)
    message = f"{rule.title}, {plain(rule.value)} %: here it is {found} %"
    return [rule.found(found, message, exceeded=False, severity="warn")]  # it warns, but what is too little is over nothing


def _check_nitrate_alone(ingoing: Ingoing, on: dt.date, days: int | None) -> list[Finding]:
    rule = rules_of(PRACTICE, on)["practice.nitrate_alone.days"]
    if days is None:
        return [
            advice("curing.nitrate_alone_unchecked", f"{rule.title}. How long it stays in the cure is not entered: unchecked")
        ]
    if rule.value is None or days >= rule.value:
        return []
    message = f"{rule.title}: {days} days in the cure, where a slow one has {plain(rule.value)} or more"
    return [rule.found(str(days), message, exceeded=False, severity="warn")]


def _check_without_nitrite(on: dt.date, temperature_c: Decimal | None, is_sealed: bool | None) -> list[Finding]:
    rules = rules_of(PRACTICE, on)
    cool, sealed = rules["practice.no_nitrite.temperature"], rules["practice.no_nitrite.sealed"]
    findings = []
    if temperature_c is None:
        findings.append(advice("curing.temperature_unchecked", f"{cool.title}. The temperature is not entered: unchecked"))
    elif cool.value is not None and temperature_c > cool.value:
        found = plain(temperature_c)
        message = f"{cool.title}: {found} °C is over {plain(cool.value)} °C"
        findings.append(cool.found(found, message, exceeded=True, severity="warn"))
    if is_sealed is None:
        findings.append(advice("curing.bag_unchecked", f"{sealed.title}. Whether the bag is sealed is not entered: unchecked"))
    elif is_sealed:
        findings.append(sealed.found(None, f"{sealed.title}: leave it open to air, or cure with nitrite", exceeded=True))
    return findings
