"""The densities of the table against published collections, as independent packages ship them.

Sources
-------
PNNL
    R. J. McConn et al., *Compendium of Material Composition Data for Radiation Transport
    Modeling*, PNNL-15870 Rev. 1, Pacific Northwest National Laboratory, 2011 (year from memory):
    package ``materials-compendium``. Its notes quote other works, among them *Marks' Standard
    Handbook for Mechanical Engineers*, 10th edition, table 6.1.5, for woods.
EN 12524
    EN 12524:2000, *Building materials and products - Hygrothermal properties - Tabulated design
    values* (title from memory; superseded by EN ISO 10456): ``ht.insulation.building_materials``.
ASHRAE
    *ASHRAE Handbook: Fundamentals*: ``ht.insulation.ASHRAE``.
xraydb
    The materials table of the package ``xraydb`` (after B. Ravel's Hephaestus).
Alden
    H. A. Alden, *Hardwoods of North America*, USDA Forest Service FPL-GTR-83, 1995, for beech.
Elements
    Densities of the pure elements: package ``periodictable``.
"""

from __future__ import annotations

import re

import periodictable
import pytest
from ht.insulation import ASHRAE, building_materials
from materials_compendium import MaterialsCompendium
from xraydb.materials import get_materials

from silhouette3d.base.materials import find_material

PNNL = {one.Name: one for one in MaterialsCompendium}

SAME = 0.005
"""Relative. The same material in both: each figure has two or three digits, and the usual way into
such a table is a lb/in³ figure of three digits, which is good to half a per cent."""
ALIKE = 0.01
"""Relative. The same kind of material, another grade or maker: collections then differ by a unit
of their second decimal, which is up to one per cent for a plastic."""


def density(name: str) -> float:
    return find_material(name).density_g_cm3


def pnnl(name: str) -> float:
    """g/cm³ of the record of that name or formula, else of the only one whose name holds it."""
    named = [one for one in MaterialsCompendium if name in (one.Name, one.Formula)]
    (found,) = named or [one for one in MaterialsCompendium if name in one.Name]
    return float(found.Density)


def en12524(name: str) -> float:
    """g/cm³; the package holds kg/m³."""
    return float(building_materials[name][0]) / 1000


def ashrae(name: str) -> float:
    """g/cm³; the package holds kg/m³."""
    return float(ASHRAE[name][0]) / 1000


@pytest.mark.parametrize(
    ("ours", "theirs", "tolerance"),
    [
        ("aluminium 2024", "Aluminum, alloy 2024-O", SAME),
        ("aluminium 3003", "Aluminum, alloy 3003", SAME),
        ("aluminium 5083", "Aluminum, alloy 5086-O", SAME),  # its sister alloy
        ("aluminium 6061", "Aluminum, alloy 6061-O", SAME),
        ("aluminium 7075", "Aluminum, alloy 7075-O", SAME),
        ("steel 1018", "Steel, Low Carbon (1008)", SAME),  # carbon: 0.1 % less
        ("steel 1045", "Steel, Medium Carbon (1045)", SAME),
        ("steel A36", "Steel, Low Carbon (1008)", SAME),
        ("stainless steel 304", "Steel, Stainless 304", SAME),
        ("stainless steel 304", "Steel, Stainless 304L", SAME),
        ("stainless steel 316", "Steel, Stainless 316", SAME),
        ("stainless steel 316", "Steel, Stainless 316L", SAME),
        ("stainless steel 440C", "Steel, Stainless 440C", SAME),
        ("cast iron", "Iron, Cast (gray)", SAME),
        ("copper C110", "Copper", ALIKE),  # the pure element; C110 holds oxide
        ("titanium grade 2", "Titanium", ALIKE),  # collections of elements differ by 0.8 %
        ("titanium Ti-6Al-4V", "Titanium alloy, grade 5", SAME),
        ("nickel alloy 625", "Alloy 625", SAME),
        ("nickel alloy 718", "Alloy 718", SAME),
        ("zinc", "Zinc", SAME),
        ("lead", "Lead", SAME),
        ("nylon 6", "Nylon, Type 6 and Type 6/6", SAME),
        ("PET", "Polyethylene Terephthalate (PET)", SAME),
        ("PMMA", "C5O2H8", SAME),
        ("polycarbonate", "Polycarbonate", SAME),
        ("polypropylene", "Polypropylene (PP)", SAME),
        ("polystyrene", "Polystyrene (PS)", ALIKE),
        ("PVC", "Polyvinyl Chloride (PVC)", SAME),
        ("alabaster", "Gypsum (Plaster of Paris)", SAME),
        ("basalt", "Rock, Basalt", SAME),
        ("granite", "Rock, Granite", SAME),
        ("limestone", "Rock, Limestone", SAME),
        ("sandstone", "Rock, Sandstone", SAME),
        ("borosilicate glass", "Glass, Borosilicate", SAME),
        ("fused silica", "Quartz Glass", SAME),
    ],
)
def test_pnnl_15870(ours: str, theirs: str, tolerance: float) -> None:
    assert density(ours) == pytest.approx(pnnl(theirs), rel=tolerance)


@pytest.mark.parametrize(
    ("ours", "theirs", "tolerance"),
    [
        ("steel A36", "Metals, steel", ALIKE),
        ("copper C110", "Metals, copper", SAME),
        ("zinc", "Metals, zinc", ALIKE),
        ("lead", "Metals, lead", SAME),
        ("polycarbonate", "Plastics, polycarbonates", SAME),
        ("PTFE", "Plastics, polytetrafluoroethylene (PTFE)", SAME),
        ("PVC", "Plastics, Polyvinylchloride (PVC)", ALIKE),
        ("PMMA", "Plastics, polymethylmethacrylate (PMMA)", ALIKE),
        ("nylon 6", "Plastics, polyamide (nylon)", ALIKE),
        ("LDPE", "Plastics, polyethylene / polythene, low density", SAME),
        ("polystyrene", "Plastics, polystyrene", SAME),
        ("limestone", "Stone, limestone, extra hard", SAME),
        ("soda-lime glass", "Glass, soda lime", SAME),
        ("fused silica", "Glass, quartz", SAME),
        ("birch plywood", "Wood, plywood 700 kg/m^3", SAME),  # a class, which birch falls in
        ("OSB", "Wood, oriented strand board", SAME),
    ],
)
def test_en_12524(ours: str, theirs: str, tolerance: float) -> None:
    assert density(ours) == pytest.approx(en12524(theirs), rel=tolerance)


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        ("ash", "Ash"),
        ("birch", "Birch"),
        ("Douglas fir", "Douglas fir/larch"),
        ("maple", "Maple"),
        ("oak", "Oak"),
        ("OSB", "Oriented strand board (OSB)"),
        ("southern pine", "Southern pine"),
        ("spruce", "Spruce"),
        ("western red cedar", "Western red cedar"),
        ("white pine", "Eastern white pine"),
        ("limestone", "Limestone, 2600 kg/m^3"),
        ("soda-lime glass", "Siding, Architectural (soda-lime float) glass"),
        ("EPS", "Expanded polystyrene, molded beads"),
        ("foam glass", "Cellular glass"),
        ("PIR foam", "Polyisocyanurate, aged, unfaced"),
        ("XPS", "Expanded polystyrene, extruded"),
    ],
)
def test_ashrae(ours: str, theirs: str) -> None:
    # SAME holds although boards differ by 10 %: ours are these figures, cut to two or three digits.
    assert density(ours) == pytest.approx(ashrae(theirs), rel=SAME)


@pytest.mark.parametrize(
    ("ours", "theirs", "tolerance"),
    [
        ("PEEK", "peek", SAME),
        ("PMMA", "pmma", ALIKE),
        ("polycarbonate", "polycarbonate", SAME),
        ("PTFE", "C2F4", SAME),
        ("fused silica", "silica", SAME),
        ("copper C110", "copper", ALIKE),
        ("titanium grade 2", "titanium", SAME),
        ("zinc", "zinc", SAME),
        ("lead", "lead", SAME),
    ],
)
def test_xraydb(ours: str, theirs: str, tolerance: float) -> None:
    (found,) = (one for one in get_materials().values() if theirs in (one.name, one.formula))
    assert density(ours) == pytest.approx(found.density, rel=tolerance)


@pytest.mark.parametrize(
    ("ours", "symbol", "tolerance"),
    [
        ("copper C110", "Cu", ALIKE),
        ("lead", "Pb", SAME),
        ("titanium grade 2", "Ti", ALIKE),
        ("zinc", "Zn", SAME),
    ],
)
def test_pure_elements(ours: str, symbol: str, tolerance: float) -> None:
    element = periodictable.elements.symbol(symbol)
    assert density(ours) == pytest.approx(element.density, rel=tolerance)


@pytest.mark.parametrize(
    ("ours", "wood"),
    [
        ("birch", "birch"),
        ("maple", "maple (sugar)"),
        ("oak", "oak (black or red)"),
        ("oak", "oak (white)"),
        ("ash", "ash (black)"),
        ("ash", "ash (white)"),
        ("Douglas fir", "fir (douglas)"),
        ("southern pine", "pine (yellow)"),
        ("white pine", "pine (white)"),
        ("spruce", "spruce"),
    ],
)
def test_woods_of_marks_handbook_lie_in_the_range(ours: str, wood: str) -> None:
    limits = find_material(ours).range_g_cm3
    assert limits is not None
    assert limits[0] <= marks(wood) <= limits[1]


def test_walnut_of_marks_handbook() -> None:
    assert density("walnut") == pytest.approx(marks("walnut"), rel=SAME)


def test_beech_rounds_to_45_pounds_per_cubic_foot() -> None:
    # As quoted on a public web page, at 12 % moisture.
    g_cm3_per_lb_ft3 = 453.59237 / 30.48**3  # exact: pound and foot of 1959
    half_a_digit = 0.5 * g_cm3_per_lb_ft3
    assert density("beech") == pytest.approx(45 * g_cm3_per_lb_ft3, abs=half_a_digit)


def marks(wood: str) -> float:
    """g/cm³ from Marks' Handbook, table 6.1.5, out of PNNL's note on southern pine."""
    note = " ".join(PNNL["Wood (Southern Pine)"].References)
    found = re.search(rf"[ ,]{re.escape(wood)} = (\d\.\d+)", note)
    assert found is not None
    return float(found[1])


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        ("steel A36", en12524("Metals, steel")),
        ("stainless steel 304", PNNL["Steel, Stainless 304"].Density),
        ("stainless steel 304", en12524("Metals, stainless steel")),
        ("cast iron", en12524("Metals, iron, cast")),
        ("brass C360", en12524("Metals, brass")),
        ("copper C110", PNNL["Copper"].Density),
        ("polypropylene", en12524("Plastics, polypropylene")),
        ("PTFE", PNNL["Polytetrafluoroethylene (PTFE)"].Density),
        ("HDPE", en12524("Plastics, polyethylene / polythene, high density")),
        ("MDF", en12524("Wood, fibreboard, 600 kg/m^3")),
        ("MDF", en12524("Wood, fibreboard, 800 kg/m^3")),
        ("southern pine", PNNL["Wood (Southern Pine)"].Density),
        ("southern pine", ashrae("Southern yellow pine")),
        ("basalt", en12524("Stone, basalt")),
        ("granite", en12524("Stone, granite")),
        ("limestone", en12524("Stone, limestone, extra soft")),
        ("marble", en12524("Stone, marble")),
        ("sandstone", en12524("Stone, sandstone (silica)")),
        ("sandstone", ashrae("Quartzitic and sandstone, 1920 kg/m^3")),
        ("slate", en12524("Stone, slate")),
        ("soda-lime glass", PNNL["Glass, Plate"].Density),
        ("foam glass", PNNL["Glass, Foam"].Density),
        ("PIR foam", PNNL["Polyisocyanurate (PIR)"].Density),
    ],
)
def test_collections_that_disagree_lie_in_the_range(ours: str, theirs: float) -> None:
    limits = find_material(ours).range_g_cm3
    assert limits is not None
    assert limits[0] <= theirs <= limits[1]


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [("HDPE", "High density polyethylene"), ("LDPE", "Low density polyethylene")],
)
def test_polyethylenes_lie_where_the_plastics_federation_puts_them(ours: str, theirs: str) -> None:
    # British Plastics Federation, out of PNNL's note on polyethylene.
    note = " ".join(PNNL["Polyethylene, Non-borated"].References)
    found = re.search(rf"{theirs} \(\w+\) is (0\.\d+) to (0\.\d+) g/cm3", note)
    assert found is not None
    assert float(found[1]) <= density(ours) <= float(found[2])


class TestTraps:
    """Figures under a name that looks right and are another material."""

    def test_typical_brass_is_an_average_of_many_alloys_not_c360(self) -> None:
        # 5 % apart, ten times what grades of one alloy differ by.
        assert PNNL["Brass (typical composition)"].Density < 0.96 * density("brass C360")

    def test_acrylic_is_pmma_and_not_what_en_12524_calls_acrylic(self) -> None:
        assert find_material("acrylic") is find_material("PMMA")
        assert en12524("Plastics, acrylic") < 0.9 * density("acrylic")

    def test_polyethylene_without_its_kind_is_not_hdpe(self) -> None:
        assert PNNL["Polyethylene, Non-borated"].Density < 0.99 * density("HDPE")
