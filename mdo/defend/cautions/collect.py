"""Cautions of a design: the rules W01 to W24 of the reference, each with what to do about it.

``cautions.toml`` has their severity, words and action; the rules are functions of this package.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from mdo.data_files import toml_beside
from mdo.defend.cautions import rules, temperatures
from mdo.defend.cautions.base import NOTE, STOP, WARN, Caution, Reviewed, Rule
from mdo.optimise.appraisal import Appraisal

__all__ = ["NOTE", "NOT_EVALUATED", "RULES", "STOP", "WARN", "Caution", "evaluate_cautions"]

SEVERITIES = (STOP, WARN, NOTE)


class CautionRule(NamedTuple):
    """A line of the table: id, rule, severity, words with places to fill, action."""

    id: str
    rule: str
    severity: str
    text: str
    action: str

    @property
    def check(self) -> Rule:
        """The function of the rule."""
        module = temperatures if hasattr(temperatures, self.rule) else rules
        check: Rule = getattr(module, self.rule)
        return check


RULES = tuple(CautionRule(**entry) for entry in toml_beside(__file__, "cautions")["caution"])
NOT_EVALUATED: Mapping[str, str] = {
    "W23": "no field of a study takes a mass ratio, so none can be quoted from elsewhere"
}


def evaluate_cautions(appraisal: Appraisal) -> tuple[Caution, ...]:
    """Cautions that hold for a design: those that stop first, then warnings, then notes."""
    reviewed = Reviewed(appraisal)
    cautions: dict[str, Caution] = {}
    for rule in RULES:
        words = None if rule.id in cautions else rule.check(reviewed)
        if words is not None:
            text, action = (line.format_map(words) for line in (rule.text, rule.action))
            cautions[rule.id] = Caution(rule.id, rule.severity, text, action)
    return tuple(sorted(cautions.values(), key=lambda each: SEVERITIES.index(each.severity)))
