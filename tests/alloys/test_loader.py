"""The loader of cards: units, faults for people, refusal of what is missing."""

from dataclasses import replace

import pytest

from mdo.alloys import CardError, check_consistency, list_cards, load_card
from mdo.alloys.card import CARD_FOLDER

GOOD = (CARD_FOLDER / "niti_actuator.toml").read_text(encoding="utf-8")


def write(folder, old="", new=""):
    assert old in GOOD
    path = folder / "own.toml"
    path.write_text(GOOD.replace(old, new, 1), encoding="utf-8")
    return path


def problems(path):
    with pytest.raises(CardError) as caught:
        load_card(path)
    return caught.value.problems


def test_own_card_by_path(tmp_path):
    path = write(tmp_path)
    assert load_card(path).record() == load_card("niti_actuator").record()
    assert load_card(str(path)).path == path


def test_units_become_si():
    card = load_card("niti_actuator")
    assert card.fields["martensite_start"].value == pytest.approx(344.15)
    assert card.fields["strain_rate_constant"].value == pytest.approx(1.5e-8)
    assert card.fields["latent_heat"].value == pytest.approx(24200.0)
    assert card.fields["martensite_slope"].value == pytest.approx(7e6)


def test_unknown_alloy_lists_choices_and_nearest():
    with pytest.raises(CardError, match="did you mean 'niti_actuator'") as caught:
        load_card("niti_actuater")
    assert all(name in str(caught.value) for name in list_cards())


def test_missing_file(tmp_path):
    with pytest.raises(CardError, match=r"none\.toml: no such alloy card"):
        load_card(tmp_path / "none.toml")


def test_broken_toml(tmp_path):
    path = tmp_path / "own.toml"
    path.write_text("name = ", encoding="utf-8")
    with pytest.raises(CardError, match=r"own\.toml: cannot be read as TOML"):
        load_card(path)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("[density]", "[densty]", "unknown field 'densty', did you mean 'density'"),
        (
            'value = "6450 kg/m3"',
            'value = "6450 MPa"',
            "density.value: got '6450 MPa', expected a number with one of the units kg/m3",
        ),
        ('value = "6450 kg/m3"', "value = 6450", "density.value: got 6450, expected"),
        ('value = "71 degC"', 'value = "warm"', "martensite_start.value: got 'warm', expected"),
        (
            'value = "6450 kg/m3"',
            'value = "6390 kg/m3"',
            "density.low: got '6400 kg/m3', must be not above value",
        ),
        (
            'value = "6450 kg/m3"\nlow = "6400 kg/m3"',
            'value = "6600 kg/m3"\nlow = "6400 kg/m3"',
            "density.high: got '6500 kg/m3', must be not below value",
        ),
        ('low = "6400 kg/m3"', 'lower = "6400 kg/m3"', "unknown key 'lower', did you mean 'low'"),
        ("value = 0.33\n", "value = 0.7\n", "poisson_ratio.value: got 0.7, must be 0.01 to 0.499"),
        ("value = 0.33\n", "value = true\n", "poisson_ratio.value: got True, expected a number"),
        ("value = 0.33\n", "value = nan\n", "poisson_ratio.value: got nan, must be"),
        ("value = 0.33\n", "", "poisson_ratio.value: missing"),
        ('kind = "actuator"', 'kind = "actator"', "unknown kind 'actator', did you mean"),
        ('name = "niti_actuator"\n', "", "name: got None, expected a text"),
        ('provenance = "seen"', 'provenance = "seem"', "unknown standing 'seem', did you mean"),
        ("judged = false", 'judged = "no"', "density.judged: got 'no', expected true or false"),
        (
            'low = "7 MPa/K"\nhigh = "8 MPa/K"\n',
            "",
            "martensite_slope: judged, so it needs a range",
        ),
        (
            'provenance = "memory_to_verify"\njudged = true',
            'provenance = "memory_to_verify"\njudged = false',
            "martensite_slope.judged: got false, expected true",
        ),
        ("[density]\n", "density = 3\n[specific_heat_2]\n", "density: got 3, expected a table"),
        (
            'value = "71 degC"\nlow = "66 degC"',
            'value = "50 degC"\nlow = "50 degC"',
            "martensite_finish: got '55 degC', must be below martensite_start",
        ),
        (
            'value = "170 MPa"\nlow = "140 MPa"',
            'value = "90 MPa"\nlow = "90 MPa"',
            "detwinning_start_stress: got '100 MPa', must be below detwinning_finish_stress",
        ),
        (
            "value = 0.0\nlow = 0.0\nhigh = 0.01",
            "value = 0.06\nlow = 0.0\nhigh = 0.1",
            "strain_min: got '0.06', must not exceed strain_saturation",
        ),
    ],
)
def test_mutated_card_gives_one_clear_message(tmp_path, old, new, message):
    path = write(tmp_path, old, new)
    found = [text for text in problems(path) if message in text]
    assert len(found) == 1
    assert found[0].startswith(str(path))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("[density]", "[densty]"),
        ("value = 0.33\n", "value = 0.7\n"),
        ('value = "6450 kg/m3"', 'value = "6450 MPa"'),
        ('kind = "actuator"', 'kind = "actator"'),
    ],
)
def test_one_fault_gives_one_message(tmp_path, old, new):
    assert len(problems(write(tmp_path, old, new))) == 1


def test_all_faults_are_reported_together(tmp_path):
    path = tmp_path / "own.toml"
    text = GOOD.replace("[density]", "[densty]").replace("value = 0.33", "value = 0.7")
    path.write_text(text.replace('"71 degC"', '"71 degF"'), encoding="utf-8")
    assert len(problems(path)) == 3


def test_missing_fields_are_all_named():
    with pytest.raises(CardError, match="cannot be run: it does not give") as caught:
        load_card("ni60ti40").record()
    message = str(caught.value)
    for name in load_card("ni60ti40").missing_fields():
        assert name in message
    assert "martensite_start" in message
    assert "declared_life_stress" in message


def test_card_with_neither_law_nor_declared_life_is_refused(tmp_path):
    text = GOOD[: GOOD.index("[life_intercept]")]
    path = tmp_path / "own.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(CardError, match="needs a declared life"):
        load_card(path).record()


def test_fields_of_a_study_complete_a_card():
    donor, card = load_card("ref1"), load_card("ni60ti40")
    completed = card.with_fields(
        {n: donor.fields[n] for n in card.missing_fields() if n in donor.fields}
    )
    assert not {"martensite_start", "strain_min"} & set(completed.missing_fields())
    assert "martensite_start" in card.missing_fields()
    with pytest.raises(CardError, match="did you mean 'density'"):
        card.with_fields({"densty": donor.fields["density"]})


def changed(name, **values):
    card = load_card(name)
    fields = {field: replace(card.fields[field], value=number) for field, number in values.items()}
    return card.with_fields(fields)


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ({"latent_heat": 35e3}, "2.99 times"),
        ({"latent_heat": 4e3}, "0.34 times"),
        ({"austenite_finish": 339.0, "austenite_start": 330.0}, "martensite_start"),
        ({"austenite_slope": 1e6}, "differ"),
        ({"martensite_shear_modulus": 10e9}, "is not E/"),
        ({"allowable_shear_stress": 400e6}, "exceeds yield in shear"),
        ({"temperature_max": 370.0}, "never be heated through"),
    ],
)
def test_doubtful_cards_are_warned_about(values, message):
    assert any(message in text for text in check_consistency(changed("ref1", **values)))


def test_trained_tubes_need_a_two_way_strain_and_take_it_for_the_strain_at_no_load():
    with pytest.raises(CardError, match="two_way_strain: missing, expected the strain at no load"):
        load_card("ref1").of_tubes(trained=True)
    card = load_card("nitihf20_set1")
    given = card.fields["two_way_strain"]
    assert card.of_tubes(trained=True).record().strain_min == given.value
    untrained = card.of_tubes(trained=False)
    assert "two_way_strain" not in untrained.fields
    assert untrained.record() == card.record()
    assert untrained.record().strain_min < given.value
