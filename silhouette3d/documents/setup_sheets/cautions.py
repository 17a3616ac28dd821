"""Cautions: short ones for every setup, and all of them with their sources."""

from __future__ import annotations

from typing import Final

DEFER: Final = (
    "Follow the machine's manual, local rules and your shop's instructions; "
    "this sheet does not replace them."
)

SHORT: Final = (
    "A high-pressure jet cuts through skin and injects what it carries: an injection injury is a "
    "surgical emergency, however small it looks. Moving wires and blades cut.",
    "Hands off while it cuts; guards closed. Wear eye protection: chips and sparks fly.",
    "Freed pieces tip, jam, fall and are thrown. Fresh edges are sharp, and hot or wet.",
)
"""For every setup, a sentence or two each."""

LIFT: Final = "Lift what weighs more than 23 kg (51 lb) with help or a hoist."

FULL: Final[tuple[tuple[str, str, str], ...]] = (
    (
        "High-pressure jets",
        "A water jet goes through skin at a pressure of about 0.7 MPa (100 psi), a small part of "
        "what a cutting jet has, and takes water, abrasive and dirt deep into the flesh. The hole "
        "may look harmless. An injection injury is a surgical emergency: go to a hospital at "
        "once, and say there that it comes from a high-pressure jet. Never reach under the "
        "nozzle, and let the pressure off before work on the machine.",
        "Water Jetting Association, public safety pages; Safe Work Australia, Guide for managing "
        "risks from high pressure water jetting (December 2013); EN 1829-1:2021, High-pressure "
        "water jet machines, safety requirements.",
    ),
    (
        "Moving wires and blades",
        "Guard the point of operation, so that no part of the body can be in it while the wire "
        "or blade moves. Stop it, and wait until it stands, before reaching in. A hot wire burns "
        "and gives off fumes: draw them off.",
        "29 CFR 1910.212(a)(1), general machine guarding; ISO 12100:2010, risk assessment (from "
        "memory). Fumes: common practice, no source.",
    ),
    (
        "Flying chips and sparks",
        "Wear eye protection, and hearing protection where the machine asks for it. Keep others "
        "away from where chips, sparks and abrasive fly.",
        "29 CFR 1910.212(a)(1), which names flying chips and sparks. Protection of eyes and ears: "
        "common practice, no source.",
    ),
    (
        "Loose and sharp pieces",
        "A piece that comes loose may tip into the cutter, jam, fall or be thrown. Stop the "
        "machine before taking one out. Fresh edges cut: wear gloves once everything stands "
        "still, never near a moving blade or wire, and deburr.",
        "ISO 12100:2010, which lists cutting edges and falling or ejected objects among the "
        "hazards (from memory). Gloves: common practice, no source.",
    ),
    (
        "Lifting",
        "Lift what weighs more than 23 kg (51 lb) with help or a hoist, and less where it is far "
        "from the body, low, high, wet or slippery: 23 kg is the load constant of the equation "
        "below, for the best of postures, and no promise that a lift is safe.",
        "Waters, Putz-Anderson, Garg: Applications Manual for the Revised NIOSH Lifting "
        "Equation, DHHS (NIOSH) 94-110, revised September 2021, doi "
        "10.26616/NIOSHPUB94110revised092021; HSE INDG143(rev4), Manual handling at work (2020).",
    ),
    (
        "Hot or wet parts",
        "What a wire or a blade has cut may be hot; what comes from a jet is wet, slippery and "
        "full of abrasive. Let it cool, rinse it, and wipe up what drips on the floor.",
        "Common practice, no source.",
    ),
    (
        "What this sheet does not know",
        "It is made from drawings and numbers. It knows neither your machine nor how firmly the "
        "clamps hold, nor what stresses are in the material, nor how a jet or wire lags and "
        "tapers. Try the path with the cutter off before the first cut.",
        "",
    ),
)
"""What, in full, and who says so."""
