"""Set a log of a bench beside a result, fit inputs to it, write tables, page and card."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from mdo.alloys import CardError, card_of
from mdo.bench.assembly import demonstration, replay_of
from mdo.bench.comparison import compare
from mdo.bench.coupon import coupon_tables, coupon_worth
from mdo.bench.fit import Fit, fit
from mdo.bench.fitted_card import fitted_card
from mdo.bench.identify import further_tests, separations
from mdo.bench.log import Log, read_log
from mdo.bench.made_log import Faults, made_of, write_log
from mdo.bench.replay import Replay
from mdo.bench.tables import comparison_tables, fit_tables
from mdo.optimise.appraisal import Appraisal
from mdo.report.pages.log_page import log_page
from mdo.report.words.bench_log import coupon_lines, verdict_lines
from mdo.results.files import StoreError, clear_errors
from mdo.results.manifest import TOOL, read_manifest
from mdo.results.opening import open_result, write_output
from mdo.results.store import ResultStore
from mdo.results.stored import StoredResult
from mdo.run.analyses import SUMMARIES
from mdo.run.explorations import REPORT
from mdo.run.progress import Say
from mdo.run.rebuild import BENCH, stored_appraisal
from mdo.study.assemble import alloy_card
from mdo.study.reader import StudyError

MOTION = "motion"
SIZED = ("optimum", "defence", "evaluate")  # results that hold a design
VALUED = ("defence", "assurance")  # results that say what a measurement is worth
SEED = 0  # of a made unit and of the noise of its log
UNIT = 0.4  # of half a range, by which a made unit differs at most; judgement


class OnBench(NamedTuple):
    """What came of a log, or of coupons alone: sentences, folder, tables by name."""

    lines: list[str]
    folder: Path
    tables: dict[str, pd.DataFrame]


def compare_log(
    folder: Path, log_file: Path | None, *, names: Sequence[str] = (), card: Path | None = None,
    units: str = "si", say: Say = lambda _: None,
) -> OnBench:  # fmt: skip
    """Set a log beside the prediction of a result; without a log, virtual coupon tests alone.

    Parameters
    ----------
    folder : of the result
    log_file : of the log
    names : inputs to fit
    card : file for the alloy card with what was fitted
    units : ``si`` or ``us``, of the sentences
    say : told what is being done

    Raises
    ------
    StudyError, StoreError
        If the log cannot be used, the result has no motion or is of another study.
    """
    log = None if log_file is None else read_log(log_file)
    result = _sized(open_result(folder), log)
    worth = _worth(result)
    with stored_appraisal(result) as appraisal:
        say("Virtual coupon tests")
        tables = coupon_tables(*_coupon(appraisal)) | {"coupon_worth": coupon_worth(worth)}
        if log is not None:
            say(f"Replaying {log.name}")
            replay = replay_of(appraisal, log, log.case)
            tables = comparison_tables(replay, compare(replay, seed=appraisal.study.seed)) | tables
            if names:
                found = fit(replay, names, say=say)
                say("What further tests would tell")
                tests = further_tests(replay, found, *_coupon(appraisal))
                tables |= fit_tables(found, separations(found, tests))
                if card is not None:
                    _write_card(card, appraisal, found, replay)
    lines = verdict_lines(tables, units) if log is not None else coupon_lines(tables, units)
    place = _written(result, appraisal, log, tables, [*names, *worth])
    return OnBench(lines, place, tables)


def make_log(folder: Path, file: Path) -> None:
    """Write a log that is made, not measured, of one unit with inputs from their ranges.

    Parameters
    ----------
    folder : of the result
    file : of the log (CSV); the TOML file beside it says what the unit was

    Raises
    ------
    StudyError, StoreError
        If the result has no motion, or a file cannot be written.
    """
    result = _sized(open_result(folder), None)
    if file.suffix.lower() != ".csv":
        raise StudyError([f"{file}: got ending {file.suffix!r}, expected .csv"])
    with stored_appraisal(result) as appraisal:
        inputs = demonstration(appraisal)
        replay = replay_of(appraisal, inputs)
    rng = np.random.default_rng(SEED)
    shifts = rng.uniform(-UNIT, UNIT, len(replay.nominal)) * replay.spreads
    ends = np.array([(one.low, one.high) for one in replay.parameters]).T
    values = np.clip(replay.nominal + shifts, *ends)
    log = made_of(replay, values, Faults(missing=0.001), seed=SEED)
    remarks = [
        "A made log: nothing was measured. The unit on this bench has",
        *(f"{one.name} = {value:.7g} {one.unit}"
          for one, value in zip(replay.parameters, values, strict=True)),
    ]  # fmt: skip
    with clear_errors(file.parent, "write"):
        write_log(log._replace(study=inputs.study, case=inputs.case), file, remarks)


def _sized(result: StoredResult, log: Log | None) -> StoredResult:
    """Result of the design whose motion a result is, or that has one of the same study beside it.

    Raises
    ------
    StoreError
        If there is no motion, or the log is of another study; it says what to run.
    """
    study, place = result.manifest.study, result.folder.parent
    again = f"run '{TOOL} run STUDY --analysis optimum --analysis {MOTION}'"
    if log is not None and log.study and log.study != study:
        raise StoreError(
            f"{result.folder}: result of study '{study}', but {log.name} is of '{log.study}' "
            f"(log.study), expected the same: name its result ({again}), or mend log.study"
        )
    kind = result.manifest.analysis
    wanted = SIZED if kind == MOTION else (MOTION,)
    found = [one for name in wanted if (one := _beside(place / name, result)) is not None]
    if kind not in {MOTION, *SIZED} or not found:
        what = f"no result of '{' or '.join(wanted)}' of the same study is beside it"
        raise StoreError(
            f"{result.folder}: result of '{kind}', {what}, expected both a design and its motion: "
            f"{again} and name the result"
        )
    return found[0] if kind == MOTION else result


def _beside(place: Path, result: StoredResult) -> StoredResult | None:
    """Finished result of the same study, if there is one."""
    known = read_manifest(place)
    if known is None or not known.complete or known.study_text != result.manifest.study_text:
        return None
    return StoredResult(place, known)


def _worth(result: StoredResult) -> dict[str, pd.DataFrame]:
    """Tables of results of the same study that say what a measurement is worth."""
    stored = (_beside(result.folder.parent / name, result) for name in VALUED)
    return {
        name: one.table(name)
        for one in stored if one is not None
        for name in ("sensitivity", "test_plan", "assurance_inputs") if name in one.tables
    }  # fmt: skip


def _coupon(appraisal: Appraisal) -> tuple[Any, float, float]:
    """Card, wall ratio and largest stress of the tubes of a design."""
    stress = float(np.max(appraisal.design["operating_stress"]))
    wall = float(appraisal.design["wall_ratio"])
    return appraisal.problem.assembled.parameters["alloy"], wall, stress


def _write_card(path: Path, appraisal: Appraisal, found: Fit, replay: Replay) -> None:
    """Write the card with what was fitted, once it can be read back."""
    text = fitted_card(
        alloy_card(appraisal.study), found.fitted, replay.log, level=replay.level, name=path.stem,
        trained=appraisal.study.actuator.trained,
    )  # fmt: skip
    try:
        card_of(text, path)
    except CardError as error:
        faults = "; ".join(line.partition(": ")[2] for line in error.problems)
        raise StudyError(
            [f"{path}: not written: what was fitted makes no card ({faults}); fit fewer inputs"]
        ) from None
    write_output(path, text.encode())


def _written(
    result: StoredResult, appraisal: Appraisal, log: Log | None, tables: dict[str, pd.DataFrame],
    names: Sequence[str],
) -> Path:  # fmt: skip
    """Write tables and page beside the result; returns the folder."""
    study = appraisal.study
    digest = "" if log is None else log.digest
    parts = [result.manifest.study_hash, digest, *names]
    key = hashlib.sha256("\n".join(parts).encode()).hexdigest()
    store = ResultStore(result.folder.parent.parent, result.manifest.study)
    writer = store.begin(BENCH, study.text, key, study.seed)
    if writer is None:  # the same log was set beside the same result before
        return store.place(BENCH)
    said = verdict_lines if log is not None else coupon_lines
    texts = {SUMMARIES[units]: "\n".join(said(tables, units)) for units in ("si", "us")}
    agrees = tables["bench_agreement"]["agrees"] if log is not None else []
    with writer:
        writer.write(tables, {REPORT: log_page(result.study, tables), **texts})
        return writer.finish({"agrees": int(sum(agrees)), "series": len(agrees)}, {})
