"""What is done once to a design is not compiled operation by operation."""

from __future__ import annotations

import logging
from pathlib import Path

import jax
import numpy as np
import pytest

from mdo.defend.tables.design import result_tables
from mdo.disciplines.levels import Levels
from mdo.model import kept
from mdo.model.chain import Chain
from mdo.model.parts import air_pressure, relative_thickness
from mdo.model.system import OBJECTIVE, ROWS, declare_system
from mdo.optimise.appraisal import Appraisal
from mdo.study import load_study
from mdo.study.assemble import assemble

STUDY = Path(__file__).parents[2] / "studies" / "deck_small.toml"


def test_tables_and_drawings_of_a_design_compile_a_handful_of_functions(
    medium: Appraisal, caplog: pytest.LogCaptureFixture
) -> None:
    with jax.log_compiles(), caplog.at_level(logging.WARNING, logger="jax"):
        assemble(medium.problem.study)
        result_tables(medium)
        for biconvex in (False, True):
            relative_thickness(np.linspace(0.1, 0.9, 5), biconvex=biconvex)
        for height in (0.0, 5000.0):
            air_pressure(height)
    compiled = [one.message for one in caplog.records if "Finished XLA compilation" in one.message]
    # planform, wire, two forms of section, air, what folding gives and its doubt; earlier tests may
    # have compiled some of them
    assert len(compiled) <= 7, compiled


def test_levels_share_what_they_have_in_common(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The prelude serves all levels of tubes and heat, what follows it all levels of the loads."""
    monkeypatch.setattr(kept, "use_persistent_cache", lambda: tmp_path)
    parameters = assemble(load_study(STUDY)).parameters
    chains = {
        levels: Chain(declare_system(levels=levels), parameters, objective=OBJECTIVE, rows=ROWS)
        for levels in (Levels(), Levels(hinge_moment="strip"), Levels(heat="network"))
    }
    own, loads, heat = chains.values()
    for function in ("_solve", "_rest"):
        compiled = [getattr(chain.prelude, function) for chain in (own, heat, loads)]
        assert compiled[1] is compiled[0]
        assert compiled[2] is not compiled[0]
    assert loads.values is own.values
    assert heat.values is not own.values


def test_compiles_are_counted(caplog: pytest.LogCaptureFixture) -> None:
    with jax.log_compiles(), caplog.at_level(logging.WARNING, logger="jax"):
        jax.jit(lambda x: 3.0 * x + 1.25)(np.arange(7.0))
    assert [one for one in caplog.records if "Finished XLA compilation" in one.message]
