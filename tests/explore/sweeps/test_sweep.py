"""Sweeps of the small study: values against one design at a time, verdicts, tables, lists."""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow.parquet as pq
import pytest

from mdo.explore.sweeps import sweep
from mdo.explore.sweeps.list_file import read_list
from mdo.explore.sweeps.space import space_of
from mdo.explore.sweeps.sweep import run_sweep, verdicts
from mdo.model.requirements import REQUIREMENTS
from mdo.optimise.axes import ParametricProblem
from mdo.optimise.problem import make_problem
from mdo.optimise.problem_text import problem_context, problem_in
from mdo.report.words.explorations import sentences
from mdo.results.work import Work
from mdo.study.reader import StudyError

from .conftest import BASE, SHIPPED_BATCH, SWEPT, around, planned, same, written

RUN = "fedcba9876543210"


def silent(_: str) -> None:
    """Say nothing."""


@pytest.fixture(scope="module")
def swept(with_axes):
    """A sweep in three chunks, and all its designs."""
    with Work(None, RUN) as work:
        found = run_sweep(with_axes.problem, work, silent, BASE)
        designs = pd.read_parquet(found.files["designs.parquet"])
        yield found, designs.astype({"status": str, "reason": str})


def test_every_design_is_there_once_in_order(swept):
    found, designs = swept
    assert designs["design"].tolist() == list(range(90))
    assert sum(found.status_counts.values()) == 90
    assert pq.ParquetFile(found.files["designs.parquet"]).num_row_groups == 3


def test_values_are_those_of_one_design_at_a_time(small, swept, with_axes):
    """Each point assembled as a study of its own, each design by the chain alone."""
    parametric = ParametricProblem(small, with_axes.axes)
    for _, one in swept[1].iloc[::30].iterrows():
        here = parametric.at(np.array([one["fold_time"], one["torque_margin"]]))
        x = np.array(BASE)
        for number, label in enumerate(small.labels):
            x[number] = one.get(label, x[number])
        mass, rows = here.values_only(x)
        assert one["system_mass"] == pytest.approx(mass, rel=1e-10)
        assert one["worst_row"] == pytest.approx(rows.min(), rel=1e-9, abs=1e-10)
        feasible = rows.min() >= -1e-6
        assert one["status"] == ("feasible" if feasible else "infeasible")
        group = here.counting_labels[int(rows.argmin())].group
        assert one["reason"] == ("" if feasible else REQUIREMENTS[group].title)
        full = here.values(x)
        for name in ("peak_power", "sortie_energy", "alloy_mass", "bundle_length"):
            assert one[name] == pytest.approx(float(full[name]), rel=1e-10)
        legs = here.assembled.parameters["legs"]
        folds = (np.asarray(legs.moves) > 0.5) & (np.asarray(legs.is_return) < 0.5)
        driver = np.where(full["pushes_up"] > 0.5, full["heat_time"][:, 0], full["heat_time"][:, 1])
        assert one["fold_time_longest"] == pytest.approx(driver[folds].max(), rel=1e-9)


def test_both_verdicts_occur_and_the_lightest_is_named(swept):
    found, designs = swept
    feasible = designs[designs["status"] == "feasible"]
    assert 0 < len(feasible) < len(designs)
    assert found.status_counts == {
        "feasible": len(feasible),
        "infeasible": len(designs) - len(feasible),
        "not settled": 0,
    }
    best = feasible["system_mass"].idxmin()
    assert f"number {best}, {feasible['system_mass'][best]:.2f} kg" in sentences(found)[1]


def test_tables_say_what_the_designs_say(swept):
    found, designs = swept
    pd.testing.assert_frame_equal(found.tables["sweep_sample"], designs)
    columns = found.tables["sweep_columns"].set_index("column")
    for name in ("fold_time", "tube_length", "system_mass", "worst_row"):
        ends = (designs[name].min(), designs[name].median(), designs[name].max())
        assert tuple(columns.loc[name, ["low", "median", "high"]]) == ends
    assert columns.loc["tube_count.up", "unit"] == "1"
    assert columns.loc["tube_length", "unit"] == "m"
    counted = designs.groupby(["status", "reason"]).size()
    table = found.tables["sweep_status"].set_index(["status", "reason"])["designs"]
    assert table.to_dict() == counted.to_dict()


def test_points_stay_in_their_ranges(swept, small):
    _, designs = swept
    for label, (low, high) in around(small, 0.01).items():
        assert low <= designs[label].min() < designs[label].max() <= high
    kept = set(small.labels) - set(SWEPT)
    for label in kept & set(designs.columns):
        assert (designs[label] == BASE[small.labels.index(label)]).all()


def test_another_process_makes_the_same_problem(small, with_axes):
    again = problem_in(problem_context(with_axes.problem, {}))
    assert again is not with_axes.problem
    same(again.theta, small.theta)
    space = space_of(again, with_axes.low.tolist())
    assert (space.axes, space.variables) == (with_axes.axes, with_axes.variables)
    same([space.low, space.high], [with_axes.low, with_axes.high])


def test_design_without_finite_values_is_not_settled(small, with_axes):
    found = {
        "system_mass": np.array([1.0, np.nan, 1.0, 1.0]),
        "worst_row": np.array([np.nan, 0.5, 0.0, -2e-6]),
        "place": np.array([3, 3, 3, 3]),
        "broken": np.array([True, False, False, False]),
    }
    title = REQUIREMENTS[small.rows.labels[3].group].title
    status, reason = verdicts(with_axes.problem, found)
    assert status == ["not settled", "not settled", "feasible", "infeasible"]
    assert reason == [
        f"No finite value: {title}", "No finite value: system mass", "", title,
    ]  # fmt: skip


def test_range_is_filled_evenly_in_the_scale_of_the_optimiser(small):
    names = ("tube_outer_radius", "hot_temperature")
    ranges = {"tube_outer_radius": (0.002, 0.008), "hot_temperature": (400.0, 500.0)}
    space = space_of(planned(small, variables=written(ranges)), BASE)
    assert space.names == names
    shares = np.array([[0.0, 0.0], [0.5, 0.5], [1.0, 1.0]])
    expected = [[0.002, 400.0], [0.004, 450.0], [0.008, 500.0]]
    np.testing.assert_allclose(space.values(shares), expected, rtol=1e-14)
    designs = space.designs(space.values(shares))
    assert (designs.min(axis=0)[2], designs.max(axis=0)[2]) == (BASE[2], BASE[2])


def test_everything_is_swept_where_nothing_is_named(small):
    space = space_of(small)
    active = [label for label, on in zip(small.labels, small.active, strict=True) if on]
    assert list(space.names) == active
    same(space.low, small.lower)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"sample": "random"}, 'sample: unknown choice, got "random", expected one of: latin_h'),
        ({"designs": 0}, "designs: out of range, got 0, expected 1 to 100000000"),
        ({"chunk": 0}, "chunk: out of range"),
        ({"sample": "list"}, "file: missing"),
        ({"variables": {"tube_size": [1.0, 2.0]}}, "variables.tube_size: no design variable"),
        ({"variables": {"spring_rate": ["1 N*m/rad", "2 N*m/rad"]}}, "spring_rate: frozen or"),
        ({"variables": {"tube_length": ["0.3 m", "0.2 m"]}}, "expected the lower end first"),
        ({"variables": {"tube_length": ["0.3 m", "nan m"]}}, "variables.tube_length"),
        ({"variables": {"tube_length": ["1 kg", "2 kg"]}}, "tube_length: wrong dimension"),
        ({"variables": {"tube_length": ["1 cm", "20 cm"]}}, "outside its range, got 0.01 to 0.2"),
        (
            {"sample": "factorial", "variables": {"tube_length": ["0.1 m", "0.2 m"]}},
            "levels.tube_length: missing, expected 2 or more",
        ),
        (
            {"sample": "factorial", "variables": {"tube_length": ["0.1 m", "0.2 m"]},
             "levels": {"tube_length": 3, "wall_ratio": 2}},
            "levels.wall_ratio: not swept, expected one of tube_length",
        ),
        (
            {"sample": "factorial", "variables": {"tube_length": ["0.1 m", "0.2 m"]},
             "axes": {"fold_time": ["90 s", "140 s"], "torque_margin": [0.1, 0.3]},
             "levels": {"tube_length": 1000, "fold_time": 1000, "torque_margin": 1000}},
            "levels: too many, got 1000000000 points",
        ),
    ],
)  # fmt: skip
def test_bad_options_are_named(small, changes, message):
    with pytest.raises(StudyError) as caught:
        space_of(planned(small, **changes), BASE)
    assert message in str(caught.value)
    assert "analysis.sweep." in str(caught.value)


def listed(problem, tmp_path: Path, text: str, axes=()):
    file = tmp_path / "designs.csv"
    file.write_text(text, encoding="utf-8")
    return read_list(problem, axes, file, tmp_path / "numbers", "analysis.sweep.file")


def test_list_is_read_with_its_units(small, with_axes, tmp_path):
    text = (
        "hot_temperature [degC],tube_length [mm],tube_count.up,fold_time [min],torque_margin\n"
        "200,150,4,4.5,0.25\n\n210.5,1.6e2,5,5,0.3\n"
    )
    found = listed(small, tmp_path, text, with_axes.axes)
    assert found.names == (
        "fold_time", "torque_margin", "tube_length", "tube_count.up", "hot_temperature",
    )  # fmt: skip
    expected = [[270.0, 0.25, 0.15, 4.0, 473.15], [300.0, 0.3, 0.16, 5.0, 483.65]]
    np.testing.assert_allclose(found.numbers, expected, rtol=1e-13)


@pytest.mark.parametrize(
    ("text", "messages"),
    [
        ("", ["empty, expected a line of heads"]),
        ("tube_length [mm]\n", ["no designs, expected one on every line after line 1"]),
        ("tube_size [mm]\n1\n", ['line 1: got "tube_size [mm]", expected one of tube_outer']),
        ("tube_length [kg]\n1\n", ["line 1: tube_length: wrong dimension, got unit 'kg'"]),
        ("tube_length,tube_length\n1,1\n", ["line 1: tube_length given twice"]),
        (
            "tube_length [mm],wall_ratio\n100,0.3\nx,0.3\n100\n100,nan\n1e9,0.3\n",
            [
                'designs.csv line 3: tube_length: got "x", expected a finite number',
                "designs.csv line 4: got 1 cells, expected 2",
                'designs.csv line 5: wall_ratio: got "nan", expected a finite number',
                "designs.csv line 6: tube_length: outside its range, got 1e+06, expected 0.05 to 3",
            ],
        ),
        ('wall_ratio\n0.3\n"0.3\n', ["no CSV in UTF-8"]),
    ],
)
def test_bad_lists_are_refused_by_line(small, tmp_path, text, messages):
    with pytest.raises(StudyError) as caught:
        listed(small, tmp_path, text)
    for message in messages:
        assert message in str(caught.value)
    assert len(caught.value.problems) == len(messages)


def test_list_that_cannot_be_read(small, tmp_path):
    with pytest.raises(StudyError, match="cannot be read"):
        read_list(small, (), tmp_path / "none.csv", tmp_path / "numbers", "analysis.sweep.file")
    (tmp_path / "other.csv").write_bytes(b"wall_ratio\n\xff\xfe\n")
    with pytest.raises(StudyError, match="no CSV in UTF-8"):
        read_list(small, (), tmp_path / "other.csv", tmp_path / "numbers", "analysis.sweep.file")


def test_long_lists_of_faults_end(small, tmp_path):
    with pytest.raises(StudyError) as caught:
        listed(small, tmp_path, "wall_ratio\n" + "bad\n" * 1000)
    assert len(caught.value.problems) == 21
    assert caught.value.problems[-1].endswith("not read any further, expected fewer problems")


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["latin_hypercube", "sobol", "factorial", "list"])
def test_sweeps_at_one_point(small, tmp_path, kind):
    """Without axes: values against the chain; the factorial and the list in their own order."""
    ranges = around(small, 0.02)
    levels = dict.fromkeys(SWEPT, 3)
    file = tmp_path / "list.csv"
    middle = [BASE[small.labels.index(label)] for label in SWEPT]
    rows = [[value * (1.0 + 0.001 * n) for value in middle] for n in range(7)]
    pd.DataFrame(rows, columns=SWEPT).to_csv(file, index=False)
    plan = {
        "list": {"file": str(file)},
        "factorial": {"variables": written(ranges), "levels": levels},
    }.get(kind, {"variables": written(ranges)})
    with Work(None, RUN) as work:
        own = planned(small, sample=kind, designs=64, chunk=25, **plan)
        found = run_sweep(own, work, silent, BASE)
    designs = found.tables["sweep_sample"]
    assert len(designs) == {"factorial": 81, "list": 7}.get(kind, 64)
    for _, one in designs.iloc[::6].iterrows():
        x = np.array([one.get(label, BASE[n]) for n, label in enumerate(small.labels)])
        point = small.chain.point(x, small.theta, small.prelude)
        assert one["system_mass"] == pytest.approx(float(point.objective), rel=1e-10)
        worst = np.asarray(point.rows)[small.counting].min()
        assert one["worst_row"] == pytest.approx(worst, rel=1e-9, abs=1e-10)
    if kind == "list":
        np.testing.assert_allclose(designs[list(SWEPT)], rows, rtol=1e-15)
    if kind == "factorial":
        ends = [np.array(ranges[label]) for label in SWEPT]
        even = [np.sqrt(low * high) for low, high in ends[:3]] + [ends[3].mean()]
        grid = [(low, mid, high) for (low, high), mid in zip(ends, even, strict=True)]
        np.testing.assert_allclose(designs[list(SWEPT)], [*itertools.product(*grid)], rtol=1e-12)


@pytest.mark.slow
def test_worker_processes_give_the_same_file(with_axes, tmp_path, monkeypatch):
    """Two workers with one thread each, against this process with as many as it has cores.

    In batches of one width: another width is other code, and may end in other last bits.
    """
    monkeypatch.setattr(sweep, "BATCH", SHIPPED_BATCH)  # as the workers have it
    with Work(tmp_path / "local", RUN, scheduler="local", workers=2) as work:
        found = run_sweep(with_axes.problem, work, silent, BASE)
        data = found.files["designs.parquet"].read_bytes()
    with Work(None, RUN) as work:
        found = run_sweep(with_axes.problem, work, silent, BASE)
        assert data == found.files["designs.parquet"].read_bytes()


@pytest.mark.slow
def test_whole_bounds_give_a_verdict_on_every_design(small):
    """Designs anywhere within the bounds, most of them absurd: a verdict each, no warning."""
    with Work(None, RUN) as work:
        found = run_sweep(planned(small, designs=20_000, chunk=10_000), work, silent)
    assert sum(found.status_counts.values()) == 20_000
    status = found.tables["sweep_status"]
    assert (status["reason"] != "").all() or found.status_counts["feasible"] > 0
    assert len(found.tables["sweep_sample"]) == 5_000


@pytest.mark.slow
def test_numbers_of_a_changed_card_go_to_the_workers(small):
    from mdo.optimise.problem import problem_of

    changed = problem_of(small.study, {"density": 7000.0})
    assert not np.array_equal(changed.theta, make_problem(small.study).theta)
    same(problem_in(problem_context(changed, {})).theta, changed.theta)
