"""Our few definitions against pint's whole registry: the same units, numbers and refusals."""

import itertools
import pickle

import pint
import pytest

from equipment.engineering.definitions import definitions_of
from equipment.engineering.errors import WrongUnit
from equipment.engineering.units import (
    UNITS,
    Quantity,
    fits,
    magnitude,
    quantity,
    size_in,
    unit,
    ureg,
)

VALUES = (0.0, 1.0, 32.0, 37.3, 212.0, -4.7, 1e-3, 123456.789)
TEMPERATURES = {"degC", "C", "degF", "F"}


@pytest.fixture(scope="module")
def whole():
    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


def test_every_unit_has_the_dimension_and_the_symbol_of_the_whole_registry(whole):
    for name, text in UNITS.items():
        theirs = whole.Unit(text)
        assert dict(unit(name).dimensionality) == dict(theirs.dimensionality), name
        assert f"{unit(name):~}" == f"{theirs:~}", name


def test_every_pair_converts_as_the_whole_registry_does(whole):
    compared = 0
    for given, wanted in itertools.product(UNITS, repeat=2):
        if whole.Unit(UNITS[given]).dimensionality != whole.Unit(UNITS[wanted]).dimensionality:
            continue
        for value in VALUES:
            theirs = whole.Quantity(value, UNITS[given]).m_as(UNITS[wanted])
            ours = size_in(quantity(value, given), wanted)
            if given in TEMPERATURES:  # pint goes by kelvin and rounds 273.15 on the way
                assert ours == pytest.approx(theirs, rel=1e-13, abs=1e-13), (given, wanted)
            else:
                assert ours == theirs, (given, wanted)
            compared += 1
    assert compared > 4000


def test_every_other_pair_is_refused_by_both(whole):
    for given, wanted in itertools.product(UNITS, repeat=2):
        theirs, asked = whole.Unit(UNITS[given]), whole.Unit(UNITS[wanted])
        assert fits(quantity(1.0, given), wanted) == theirs.is_compatible_with(asked)
        if theirs.is_compatible_with(asked):
            continue
        with pytest.raises(pint.DimensionalityError):
            whole.Quantity(1.0, theirs).m_as(asked)
        with pytest.raises(pint.DimensionalityError):
            size_in(quantity(1.0, given), wanted)
        with pytest.raises(WrongUnit) as refused:
            magnitude("thing", quantity(1.0, given), wanted)
        sentence = f"thing: {theirs:~} does not fit, the unit is {wanted} or its kin"
        assert str(refused.value) == sentence


def test_a_conversion_keeps_twelve_digits_and_a_unit_in_itself_all():
    assert size_in(quantity(1828.8, "mm"), "in") > 72
    assert magnitude("length", quantity(1828.8, "mm"), "in") == 72
    assert magnitude("length", quantity(1.23456789012345, "in"), "in") == 1.23456789012345
    assert magnitude("flow", quantity(1.23456789012345, "gal/day"), "gpd") == 1.23456789012345


def test_a_quantity_made_here_is_one_of_pint():
    for name in ("gpm", "degF", "percent", ""):
        ours = quantity(8.5, name)
        theirs = ureg.Quantity(8.5, UNITS.get(name, ""))
        assert type(ours) is type(theirs)
        assert isinstance(ours, Quantity)
        assert ours == theirs
        assert repr(ours) == repr(theirs)
        assert vars(ours) == vars(theirs)
        assert pickle.loads(pickle.dumps(ours)) == ours
    assert (quantity(8, "gpm") * quantity(2, "min")).m_as("gallon") == pytest.approx(16)


def test_the_registry_holds_what_the_list_reaches_and_no_more():
    lines = definitions_of(UNITS.values())
    assert len(lines) < 60
    names = [line.split("=")[0].strip() for line in lines]
    assert len(names) == len(set(names))
    with pytest.raises(pint.UndefinedUnitError):
        ureg.Unit("furlong")


def test_definitions_go_down_to_the_base_units_with_prefixes_and_constants():
    names = {line.split("=")[0].strip() for line in definitions_of(["kilopascal", "psi"])}
    assert {"pascal", "newton", "gram", "meter", "second", "kilo-"} <= names
    assert {"pound_force_per_square_inch", "standard_gravity", "grain", "inch", "yard"} <= names
    assert definitions_of(["1/day"]) == definitions_of(["day"])
    with pytest.raises(LookupError, match="pint does not define smidgin"):
        definitions_of(["gallon/smidgin"])
