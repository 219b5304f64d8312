"""Declaration: wiring by names, splits at prelude and loop, errors, implicit derivative."""

from typing import NamedTuple

import jax
import jax.numpy as jnp
import numpy as np
import pytest
from jax import Array

from mdo.disciplines.levels import Levels
from mdo.model.chain import Chain
from mdo.model.declaration import (
    Discipline,
    Loop,
    System,
    check_wiring,
    discipline,
    is_record,
    named_discipline,
    solve_loop,
    split_prelude,
    split_stages,
)
from mdo.model.layout import (
    DESIGN_LENGTH,
    DESIGN_SIZES,
    design_labels,
    join_design,
    pack,
    split_design,
    unpacking,
)
from mdo.model.system import OBJECTIVE, ROWS, declare_system
from mdo.quantities import QUANTITIES


class Data(NamedTuple):
    size: Array


class Out(NamedTuple):
    area: Array


def shape(*, width: Array, data: Data) -> Out:
    return Out(width * data.size)


def toy(name, reads, gives):
    return Discipline(name, lambda **_: None, tuple(reads), (), tuple(gives))


LOOP = Loop(state="mass", closure="new_mass", start=("vehicle", "mass_without_actuator"))
# a and b need no design; c does; d, f carry the loop; e hangs off it; g is after all
TOY = System(
    disciplines=(
        toy("a", ["wind"], ["gust"]),
        toy("b", ["gust"], ["load"]),
        toy("c", ["x", "load"], ["stress"]),
        toy("d", ["mass", "stress"], ["lock"]),
        toy("e", ["lock"], ["colour"]),
        toy("f", ["lock", "x"], ["new_mass"]),
        toy("g", ["x"], ["shape"]),
    ),
    design_variables=("x",),
    loop=LOOP,
)


def names(disciplines):
    return [item.name for item in disciplines]


def test_discipline_reads_its_names_from_the_signature():
    got = discipline("shape", shape)
    assert got == Discipline("shape", shape, ("width",), ("data",), ("area",))
    assert is_record(Data)
    assert not is_record(Array)


def test_discipline_refuses_positional_arguments_and_plain_results():
    def positional(width: Array) -> Out:
        return Out(width)

    def plain(*, width: Array) -> Array:
        return width

    with pytest.raises(TypeError, match="shape: argument width must be keyword-only"):
        discipline("shape", positional)
    with pytest.raises(TypeError, match="shape: the function must return a NamedTuple class"):
        discipline("shape", plain)


def test_discipline_may_name_what_a_table_reads_and_gives():
    def both(**known):
        return known["width"] * known["data"].size, known["width"]

    got = named_discipline(
        "table", both, reads=("data", "width"), gives=("area", "side"), records={"data"}
    )
    assert got == Discipline("table", both, ("width",), ("data",), ("area", "side"))
    known = {"width": 2.0, "data": Data(3.0), "other": 9.0}
    assert got.evaluate(known) == {"area": 6.0, "side": 2.0}
    assert discipline("shape", shape).evaluate(known) == {"area": 6.0}


def test_prelude_is_what_no_design_variable_reaches():
    prelude, chain = split_prelude(TOY)
    assert names(prelude) == ["a", "b"]
    assert names(chain) == ["c", "d", "e", "f", "g"]


def test_loop_holds_only_what_state_reaches_and_closure_needs():
    stages = split_stages(split_prelude(TOY)[1], LOOP)
    assert names(stages.before) == ["c", "g"]
    assert names(stages.loop) == ["d", "f"]
    assert names(stages.after) == ["e"]


def test_wiring_names_what_is_missing_or_given_twice():
    check_wiring(TOY, ["wind"])
    with pytest.raises(ValueError, match="discipline a: nothing provides its input 'wind'"):
        check_wiring(TOY, [])
    twice = TOY._replace(disciplines=(*TOY.disciplines, toy("h", ["x"], ["lock"])))
    with pytest.raises(ValueError, match="discipline h: output 'lock' is provided twice"):
        check_wiring(twice, ["wind"])
    with pytest.raises(ValueError, match="nothing provides the closure 'new_mass'"):
        check_wiring(TOY._replace(disciplines=TOY.disciplines[:5]), ["wind"])


class Grown(NamedTuple):
    closed: Array


def grow(*, x: Array, mass: Array) -> Grown:
    # a loop with a known answer: m = 3 + x + 0.1 m, so m = (3 + x)/0.9
    return Grown(3.0 + x + 0.1 * mass)


class Vehicle(NamedTuple):
    mass_without_actuator: float


def test_loop_is_solved_with_its_implicit_derivative():
    # also where the residual is not linear: m = x + 0.01 m^2, root of a quadratic by hand
    def bend(*, x: Array, mass: Array) -> Grown:
        return Grown(x + 0.01 * mass**2)

    def closed(x, function):
        system = System(
            (discipline("grow", function),),
            ("x",),
            Loop("mass", "closed", ("vehicle", "mass_without_actuator")),
        )
        stages = split_stages(split_prelude(system)[1], system.loop)
        known = {"x": x, "vehicle": Vehicle(3.0)}
        return solve_loop(stages, known, system.loop)["closed"]

    assert float(closed(2.0, grow)) == pytest.approx(5.0 / 0.9, rel=1e-14)
    assert float(jax.grad(lambda x: closed(x, grow))(2.0)) == pytest.approx(1 / 0.9, rel=1e-13)
    root = (1 - np.sqrt(1 - 0.04 * 3.0)) / 0.02
    assert float(closed(3.0, bend)) == pytest.approx(root, rel=1e-9)
    slope = 1 / np.sqrt(1 - 0.04 * 3.0)
    assert float(jax.grad(lambda x: closed(x, bend))(3.0)) == pytest.approx(slope, rel=1e-6)


def test_system_is_wired_and_split_where_expected():
    system = declare_system()
    prelude, chain = split_prelude(system)
    assert {"environment", "loads", "roles", "travel", "transmission"} <= set(names(prelude))
    stages = split_stages(chain, system.loop)
    # a heavier actuator makes a heavier vehicle, which loads lock and brake
    assert names(stages.loop) == ["hinge_moment", "lock", "mass"]
    assert ROWS in names(stages.after)
    assert OBJECTIVE in next(d for d in chain if d.name == "mass").outputs
    assert str(system).count("\n") == len(system.disciplines) - 1


def test_every_quantity_of_the_system_is_in_the_table():
    for item in declare_system().disciplines:
        outputs = () if item.name == ROWS else item.outputs  # rows have a table of their own
        for name in item.quantities + outputs:
            assert name in QUANTITIES, (item.name, name)


def test_unknown_level_of_the_loads_is_refused():
    with pytest.raises(KeyError):
        declare_system(levels=Levels(hinge_moment="wrong"))


def test_chain_refuses_parameters_that_lack_a_record():
    with pytest.raises(ValueError, match="nothing provides its input 'legs'"):
        Chain(declare_system(), {}, objective=OBJECTIVE, rows=ROWS)


def test_design_vector_goes_there_and_back():
    x = np.arange(1.0, DESIGN_LENGTH + 1.0)
    values = split_design(jnp.asarray(x))
    assert list(values) == list(DESIGN_SIZES)
    assert join_design(values).tolist() == x.tolist()
    labels = design_labels()
    assert len(labels) == DESIGN_LENGTH
    assert x[labels.index("tube_count.down")] == float(values["tube_count"][1])
    assert x[labels.index("hot_temperature")] == float(values["hot_temperature"])
    with pytest.raises(KeyError, match="spring_rate"):
        join_design({name: 1.0 for name in DESIGN_SIZES if name != "spring_rate"})


def test_parameters_go_to_a_vector_and_back():
    given = {"data": Data(np.arange(3)), "wind": 2}
    vector = pack(given)
    assert vector.dtype == np.float64
    back = unpacking(given)(vector)
    assert np.asarray(back["data"].size).tolist() == [0.0, 1.0, 2.0]
    assert float(back["wind"]) == 2.0
    many = unpacking(given)(np.stack([vector, 2.0 * vector]))
    assert many["data"].size.tolist() == [[0.0, 1.0, 2.0], [0.0, 2.0, 4.0]]
    assert many["wind"].tolist() == [2.0, 4.0]
