"""Options of the compiler: those that its version lacks are left out, not a crash."""

from __future__ import annotations

from mdo.model.kept import cheap_options, known_options


def test_an_option_that_the_compiler_lacks_is_left_out() -> None:
    # a later compiler dropped xla_cpu_use_fusion_emitters: seen with jaxlib 0.11
    options = known_options(xla_no_such_option=True, xla_backend_optimization_level=0)
    assert options == {"xla_backend_optimization_level": 0}


def test_options_of_a_function_called_a_few_times_are_those_of_this_version() -> None:
    options = cheap_options()
    assert options is not None
    assert options["xla_backend_optimization_level"] == 0
