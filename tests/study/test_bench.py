"""``[bench]``: one assembly in place of a vehicle, loaded by a table of moments."""

from __future__ import annotations

import math
import re
from copy import deepcopy
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import mdo
from mdo.disciplines.tube.answer import LINE_END
from mdo.optimise.knob_list import all_knobs
from mdo.optimise.knobs import direction
from mdo.optimise.problem import DesignProblem, make_problem
from mdo.report import Source, render_report
from mdo.report.words.bench import bench_words
from mdo.run.design_analyses import ANALYSES
from mdo.study import StudyError, study_from_dict

IN_LBF = 0.112984829  # N*m, exact by the definitions of inch and pound-force
AIRCRAFT_WORDS = re.compile(
    r"\b(aircraft|wings?|vehicles?|panels?|airborne|fuselage)\b", re.IGNORECASE
)
CONTENT: dict[str, Any] = {
    "study": {"name": "rig", "title": "Rig beside a wing", "analyses": ["evaluate"]},
    "bench": {
        "name": "rig", "envelope_height": "40 mm", "envelope_length": "500 mm",
        "inertia": "0.3 kg*m2", "friction_moment": "0.5 N*m", "structure": "titanium",
        "moments": [["0 deg", "-500 in*lbf"], ["45 deg", "-353.55 in*lbf"], ["90 deg", "0 N*m"]],
    },
    "supply": {
        "bus": "28 V dc", "source": "generator", "power_available": "1 kW", "run_length": "3 m",
    },
    "requirements": {
        "fold_time": "180 s", "return_time": "900 s", "bay_cold": "15 degC", "bay_hot": "35 degC",
    },
    "actuator": {
        "alloy": "nitihf20_set1", "configuration": "load_return", "drive_side": "up",
        "topology": "nested", "heater": "cartridge", "trained": True,
        "declared_life_stress": "168 MPa", "declared_life_strain": 0.05,
        "declared_life_cycles": 4000,
    },
    "case": [{
        "id": "raise", "kind": "fold", "fold_from": "0 deg", "fold_to": "90 deg",
        "returns": True, "folds_per_life": 1000,
    }],
}  # fmt: skip


def changed(**sections: dict[str, Any]) -> dict[str, Any]:
    """The bench with fields of its sections set, or removed by None; a case by `case`."""
    content = deepcopy(CONTENT)
    for name, fields in sections.items():
        target = content["case"][0] if name == "case" else content.setdefault(name, {})
        for key, value in fields.items():
            if value is None:
                del target[key]
            else:
                target[key] = value
    return content


@pytest.fixture(scope="module")
def problem() -> DesignProblem:
    return make_problem(study_from_dict(CONTENT))


@pytest.fixture(scope="module")
def appraisal(problem: DesignProblem) -> Any:
    return ANALYSES["evaluate"].run(problem, lambda _: None)


def test_moments_are_those_of_the_bench_with_friction_and_inertia(
    problem: DesignProblem, appraisal: Any
) -> None:
    legs = problem.assembled.legs
    assert [leg.label for leg in legs] == ["raise, fold", "raise, return"]
    required = appraisal.values["required_moment"]
    # 1.2 x friction; peak acceleration of a minimum-jerk motion, 10/sqrt(3) of angle over time
    # squared (Flash and Hogan 1985, from memory)
    time = appraisal.values["motion_time"][0]
    inertia = 10.0 / math.sqrt(3.0) * 0.3 * (math.pi / 2) / time**2
    assert required[0, 0] == pytest.approx(500 * IN_LBF + 1.2 * 0.5 + inertia, rel=1e-6)
    assert required[0, -1] == pytest.approx(1.2 * 0.5 + inertia, rel=1e-6)
    assert appraisal.values["damping_moment"] == pytest.approx(np.zeros((2, 11)), abs=1e-12)


def test_masses_and_power_are_those_of_one_assembly(problem: DesignProblem, appraisal: Any) -> None:
    given = problem.assembled.parameters
    pair = {**given, "choices": given["choices"]._replace(assemblies=2.0)}
    both = problem.values_with(appraisal.x, problem.chain.pack(pair))
    one = appraisal.values
    assert both["mass_lines"][:15] == pytest.approx(2.0 * one["mass_lines"][:15])
    assert both["peak_power"] == pytest.approx(2.0 * one["peak_power"])
    assert both["wire_mass"] == pytest.approx(2.0 * one["wire_mass"])
    assert both["geared_power"] == pytest.approx(2.0 * one["geared_power"])
    assert one["system_mass"] < both["system_mass"]


def test_lines_of_the_alloy_end_by_the_stress_of_the_set_that_is_there(
    problem: DesignProblem, appraisal: Any
) -> None:
    up, down = (problem.labels.index(f"operating_stress.{side}") for side in ("up", "down"))
    x = appraisal.x.copy()
    x[down] = 10.0 * x[up]
    lines = problem.values(x, "phase_line_stress")["phase_line_stress"]
    assert lines == pytest.approx([0.0, LINE_END * x[up]])


def test_envelope_of_the_bench_binds_and_no_wing_does(problem: DesignProblem) -> None:
    groups = {label.group for label in problem.counting_labels}
    assert {"envelope_height_row", "envelope_length_row"} <= groups
    assert not {"bundle_room", "bundle_chord"} & groups
    wanted = problem.assembled.parameters["requirements"]
    assert (wanted.envelope_height, wanted.envelope_length) == pytest.approx((0.04, 0.5))


@pytest.mark.slow
def test_mass_and_rows_have_finite_slopes_by_every_knob(
    problem: DesignProblem, appraisal: Any
) -> None:
    turns = np.array([direction(problem, knob) for knob in all_knobs(problem)])
    slopes = problem.chain.slopes(appraisal.x, problem.theta, problem.prelude, turns)
    assert np.isfinite(slopes.figures["system_mass"]).all()
    assert np.isfinite(np.asarray(slopes.rows)[:, problem.counting]).all()
    names = [knob.name for knob in all_knobs(problem)]
    assert {"envelope_height", "envelope_length", "adjacent_temperature_limit"} <= set(names)


def test_a_moment_that_vanishes_gives_no_margin() -> None:
    study = study_from_dict(changed(bench={"friction_moment": "0 N*m"}))
    assessed = ANALYSES["evaluate"].run(make_problem(study), lambda _: None)
    last = assessed.values["torque_margin"][0, -1]
    assert last in {-1.0, 1e6}  # stalled or free to move, never a number without meaning
    available, required = (
        assessed.values[f"{name}_moment"][0, -1] for name in ("available", "required")
    )
    assert (last > 0.0) == (available >= required - 1e-6)


def test_pages_and_terminal_speak_of_an_assembly(appraisal: Any) -> None:
    from mdo.defend.tables.design import result_tables
    from mdo.report.words.summary import summary_text

    content = appraisal.study.content
    tables = bench_words(content, result_tables(appraisal))
    page = render_report(Source(appraisal, tables))
    shown = re.sub(r"(?s)<script.*?</script>|<style.*?</style>|<pre.*?</pre>|<[^>]*>", " ", page)
    inputs = re.compile(r"assumptions\.\S+|engineering judgement[^<]*|gearbox notes[^,]*, [^(]*")
    kept = inputs.sub(" ", shown).replace("Rig beside a wing", "")  # the user's words stay
    assert "Rig beside a wing" in shown
    assert "mass of the assembly" in " ".join(shown.split())
    for text in (kept, summary_text(appraisal).replace("Rig beside a wing", "")):
        assert sorted(set(AIRCRAFT_WORDS.findall(text))) == []
    assert set(tables["masses"]["of"]) <= {"assembly", "assembly, shared"}


def test_words_of_the_user_and_of_an_aircraft_stay() -> None:
    said = "Rig beside a wing: mass of the aircraft's fold actuation, one wing"
    assert bench_words(CONTENT, said) == "Rig beside a wing: mass of the assembly"
    assert bench_words({"vehicle": {}}, said) == said


def test_table_of_moments_beside_the_study(tmp_path: Path) -> None:
    lines = ["case,leg,fold_angle [deg],minimum [in*lbf],maximum [in*lbf],source"]
    lines += [f"raise,{leg},{at},-500,-400,rig" for leg in ("fold", "return") for at in (0, 90)]
    (tmp_path / "loads.csv").write_text("\n".join(lines))
    content = changed(bench={"moments": None, "table": "loads.csv"})
    low, high = study_from_dict(content, folder=tmp_path).load_table.moments(
        "raise", "return", np.array([0.7])
    )
    assert (low[0], high[0]) == pytest.approx((-500 * IN_LBF, -400 * IN_LBF))


@pytest.mark.parametrize(
    ("sections", "message"),
    [
        ({"vehicle": {"name": "x"}}, "bench: contradiction, got [bench] beside [vehicle]"),
        ({"bench": {"moments": None}}, "bench.moments: missing, expected moments or table"),
        ({"bench": {"table": "a.csv"}}, "bench.table: contradiction"),
        ({"bench": {"table": "a.csv", "moments": None}}, "bench.table: cannot be read"),
        ({"bench": {"inertia": None}}, "bench.inertia: missing"),
        ({"bench": {"inertia": 3}}, "bench.inertia: missing unit"),
        ({"bench": {"envelope_height": None}}, "bench.envelope_height: missing"),
        ({"bench": {"moments": [["0 deg", "1 N*m"]]}}, "bench.moments: too few"),
        ({"bench": {"moments": [["0 deg", "1 N*m"], ["0 deg", "2 N*m"], ["90 deg", "2 N*m"]]}},
         "bench.moments: an angle given twice"),
        ({"bench": {"moments": [["0 deg", "1 N*m"], ["80 deg", "2 N*m"]]}},
         "bench.moments: moments: case raise, leg fold: not covered"),
        ({"bench": {"moments": [["0 deg", "1 N*m"], ["90 deg", "2 kg"]]}}, "bench.moments"),
        ({"bench": {"moments": "falls"}}, "bench.moments"),
        ({"requirements": {"envelope_height": "1 m"}}, "requirements.envelope_height: contradict"),
        ({"actuator": {"table": "a.csv"}}, "actuator.table: contradiction"),
        ({"fidelity": {"optimise": {"hinge_moment": "strip"}}},
         "fidelity.optimise.hinge_moment: contradiction"),
        ({"case": {"location": "deck"}}, "case.raise.location: contradiction"),
        ({"case": {"wind_speed": "3 m/s"}}, "case.raise.wind_speed: contradiction"),
        ({"case": {"return": {"mach": 0.3}}}, "case.raise.return.mach: contradiction"),
    ],
)  # fmt: skip
def test_bad_input_is_told_where_it_is(sections: dict[str, Any], message: str) -> None:
    with pytest.raises(StudyError) as error:
        study_from_dict(changed(**sections))
    assert any(message in line for line in error.value.problems), error.value.problems


def test_bench_is_varied_like_any_study() -> None:
    study = study_from_dict(CONTENT).with_values({"bench.envelope_height": "50 mm"})
    assert study.requirements.envelope_height == pytest.approx(0.05)
    assert isinstance(study, mdo.study.Study)
