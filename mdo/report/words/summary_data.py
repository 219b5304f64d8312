"""Summary of an appraisal as plain data for scripts, in SI units."""

from __future__ import annotations

from typing import Any

from mdo.defend.discrepancy import largest, verification_facts
from mdo.defend.order.tubes import rounding_tables
from mdo.defend.tables.design import result_tables
from mdo.defend.tables.legs import driving_point
from mdo.defend.verdict import judge
from mdo.optimise.appraisal import Appraisal
from mdo.optimise.optimum import Optimum
from mdo.report.words.bench import bench_words
from mdo.report.words.summary import reached_starts, violated_lines
from mdo.report.words.summary_defence import Tables, defence_dict

SHOWN = ("masses", "order", "times", "limits", "window", "cautions")  # tables, line by line


def corrections_dict(optimum: Optimum | None) -> dict[str, Any]:
    """Return what the optimum took of the dear model, and how optimal it is there; else None."""
    names = ("evaluations", "gradients", "kkt_residual", "violation", "way")
    values: tuple[Any, ...] = (None,) * len(names)
    if optimum is not None and optimum.corrections is not None:
        ended = optimum.corrections
        spent = (ended.evaluations, ended.gradients)
        values = (*spent, optimum.kkt_residual, optimum.violation, ended.way)
    return {f"dear_{name}": value for name, value in zip(names, values, strict=True)}


def summary_dict(appraisal: Appraisal, tables: Tables | None = None) -> dict[str, Any]:
    """Return the summary as plain data in SI units; what does not exist is None.

    Parameters
    ----------
    appraisal : the design with everything computed about it
    tables : of its result; made here if left out
    """
    tables = result_tables(appraisal) if tables is None else tables
    study, verdict, bound = appraisal.study, judge(appraisal), appraisal.bound
    optimum = appraisal.continuous.optimum
    point = driving_point(appraisal)
    summary = {
        "study": study.name,
        "title": study.title,
        "study_hash": study.hash,
        "levels": study.fidelity.optimise._asdict()
        | {"correct": dict(study.fidelity.correct), "verify": dict(study.fidelity.verify)},
        "analysis": appraisal.kind,
        "origin": appraisal.origin,
        "verdict": verdict.level,
        "causes": list(verdict.causes),
        "open_items": list(verdict.open_items),
        "units": "SI; system_mass, masses and peak_power are of the aircraft, moments of one wing",
        "system_mass": appraisal.mass,
        "system_mass_basic": float(appraisal.values["system_mass_basic"]),
        "bound": None if bound is None else {"system_mass": bound.mass, "design": _lists(bound)},
        "whole_tubes": {
            name: frame.astype(object).where(frame.notna(), None).to_dict("records")
            for name, frame in rounding_tables(appraisal.rounded).items()
        },
        "alloy_mass": float(appraisal.values["alloy_mass"]),
        "design": _lists(appraisal),
        "driving_point": None if point is None else point._asdict(),
        "peak_power": float(appraisal.values["peak_power"]),
        "sortie_energy": float(appraisal.values["sortie_energy"]),
        "active": [
            {"requirement": row.text, "multiplier": row.multiplier,
             "unit_of_row": row.label.requirement.scale.unit}
            for row in appraisal.continuous.active
        ],
        "violated": [line._asdict() for line, _ in violated_lines(appraisal)],
        "kkt_residual": None if optimum is None or not optimum.feasible else optimum.kkt_residual,
        **corrections_dict(optimum),
        "starts": None if optimum is None else len(optimum.attempts),
        "starts_reached": None if optimum is None else reached_starts(appraisal),
        "verification": verification_facts(appraisal),
        "discrepancy": largest(tables["discrepancy"]) or None,
        **{name: tables[name].to_dict("records") for name in SHOWN},
        "defence": defence_dict(appraisal, tables),
    }  # fmt: skip
    return dict(bench_words(study.content, summary))


def _lists(appraisal: Appraisal) -> dict[str, Any]:
    return {name: value.tolist() for name, value in appraisal.design.items()}
