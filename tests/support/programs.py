"""SVG drawings as drawing programs write them, with an area that is known.

Every choice is taken from a random generator, so a seed stands for a drawing. Shapes
stand in cells of a page and so do not meet; each is drawn about 0,0 within a disc of radius 1 and
moved by transforms, so its area is that of its formula times their determinants.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from random import Random
from typing import Final

__all__ = ["PAGE", "Written", "nastily", "written"]

PAGE: Final = (80.0, 60.0)
"""mm."""
ENCODINGS: Final = ("utf-8", "utf-8", "utf-8-sig", "utf-16", "iso-8859-1")
CELL: Final = 20.0
SVG: Final = "http://www.w3.org/2000/svg"
INKSCAPE: Final = "http://www.inkscape.org/namespaces/inkscape"


@dataclass(frozen=True)
class Written:
    """A drawing.

    Parameters
    ----------
    data : bytes
        The file.
    area : float
        What it shows, in mm².
    """

    data: bytes
    area: float


# --- Shapes within a disc of radius 1 about 0,0, and their areas ---------------------------------

Drawn = tuple[str, dict[str, str], float]


def _number(rng: Random, value: float) -> str:
    """A number in one of the ways in which programs write it, to 12 digits."""
    text = f"{value:.12g}"
    ways = [text, f"{value:.11e}", f"+{text}" if value >= 0 else text]
    if 0 < abs(value) < 1 and "e" not in text:
        ways.append(text.replace("0.", ".", 1))
    return rng.choice(ways)


def _joined(rng: Random, values: Sequence[float]) -> str:
    return rng.choice([" ", ",", ", ", "\n"]).join(_number(rng, v) for v in values)


def _circle(rng: Random) -> Drawn:
    r = rng.uniform(0.2, 1.0)
    if rng.random() < 0.5:
        return "circle", {"r": _number(rng, r)}, math.pi * r * r
    ry = rng.uniform(0.2, 1.0)
    radii = {"rx": _number(rng, r), "ry": _number(rng, ry)}
    return "ellipse", radii, math.pi * r * ry


def _rect(rng: Random) -> Drawn:
    w, h = rng.uniform(0.3, 1.3), rng.uniform(0.3, 1.3)
    size = {"x": -w / 2, "y": -h / 2, "width": w, "height": h}
    rounded = 0.0
    if rng.random() < 0.5:
        rounded = rng.uniform(0.01, min(w, h) / 2)
        size[rng.choice(["rx", "ry"])] = rounded
    values = {name: _number(rng, value) for name, value in size.items()}
    return "rect", values, w * h - (4.0 - math.pi) * rounded**2


def _polygon(rng: Random) -> Drawn:
    """Corners at growing angles, less than half a turn apart: it does not cross itself."""
    count = rng.randint(3, 9)
    turns = [(i + rng.uniform(0.0, 0.4)) * 2.0 * math.pi / count for i in range(count)]
    points = [(r * math.cos(t), r * math.sin(t)) for t in turns for r in [rng.uniform(0.3, 1.0)]]
    if rng.random() < 0.5:
        points.reverse()
    area = abs(sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in _sides(points))) / 2.0
    flat = [value for point in points for value in point]
    if rng.random() < 0.3:
        return rng.choice(["polygon", "polyline"]), {"points": _joined(rng, flat)}, area
    return "path", {"d": _path_through(rng, points)}, area


def _sides(points: Sequence[tuple[float, float]]) -> Iterator[tuple[tuple[float, float], ...]]:
    return zip(points, [*points[1:], points[0]], strict=True)


def _path_through(rng: Random, points: Sequence[tuple[float, float]]) -> str:
    """Absolute or relative, closed by a command, by its last point, or not at all."""
    (x, y), *rest = points
    words = [f"{rng.choice('Mm')}{_joined(rng, (x, y))}"]
    ending = rng.choice(["Z", "z", "", "back", "back Z"])
    if ending.startswith("back"):
        rest = [*rest, points[0]]
    for px, py in rest:
        if rng.random() < 0.5:
            words.append(f"L{_joined(rng, (px, py))}")
        else:
            words.append(f"l{_joined(rng, (px - x, py - y))}")
        x, y = px, py
    return rng.choice(["", " "]).join(words) + ending.removeprefix("back")


def _ring(rng: Random) -> Drawn:
    """A disc with a square hole: by the rule, or by going round it the other way."""
    r, a = rng.uniform(0.6, 1.0), rng.uniform(0.1, 0.35)
    sweep = rng.choice([0, 1])
    disc = f"M{-r!r} 0a{r!r} {r!r} 0 1{sweep} {2 * r!r} 0 {r!r} {r!r} 0 1{sweep} {-2 * r!r} 0z"
    along = 1 if sweep else -1  # sweep = 1 goes round with y growing from x: as the square below
    way = rng.choice([along, -along])
    sides = [f"h{2 * a!r}", f"v{2 * a!r}", f"h{-2 * a!r}"]
    if way < 0:
        sides = [f"v{2 * a!r}", f"h{2 * a!r}", f"v{-2 * a!r}"]
    values = {"d": disc + f" M{-a!r} {-a!r}" + "".join(sides) + "z"}
    rule = rng.choice(["evenodd", "nonzero"])
    values["fill-rule"] = rule
    holds = rule == "nonzero" and way == along
    return "path", values, math.pi * r * r - (0.0 if holds else 4.0 * a * a)


def _star(rng: Random) -> Drawn:
    """Five points on a circle, every second one joined: it crosses itself."""
    points = [(math.cos(math.radians(144 * k)), math.sin(math.radians(144 * k))) for k in range(5)]
    inner = math.sin(math.radians(18)) / math.sin(math.radians(54))
    core = 2.5 * inner**2 * math.sin(math.radians(72))
    rule = rng.choice(["evenodd", "nonzero"])
    tips = 5.0 * inner * math.sin(math.radians(36)) - core
    values = {"d": _path_through(rng, points), "fill-rule": rule}
    return "path", values, tips + (core if rule == "nonzero" else 0.0)


def _petal(rng: Random) -> Drawn:
    """Quadratic and cubic curves: the area between a parabola and its chord is 2/3 of the box."""
    h = rng.uniform(0.2, 0.7)
    if rng.random() < 0.5:
        return "path", {"d": f"M-.9 0Q0 {2 * h!r} .9 0T-.9 0Z"}, 2.0 * 2.0 / 3.0 * 1.8 * h / 1.0
    # a cubic from -0.9 to 0.9 with both handles straight up: 3/4 of their height at most,
    # and 3/5 of the box that they span (its integral, by Bernstein polynomials)
    area = 2.0 * 0.6 * 1.8 * h
    return "path", {"d": f"M-.9 0C-.9 {h!r} .9 {h!r} .9 0S-.9 {-h!r}-.9 0z"}, area


_SHAPES: Final[Sequence[Callable[[Random], Drawn]]] = (
    _circle,
    _rect,
    _polygon,
    _ring,
    _star,
    _petal,
)


# --- A program's way of writing ------------------------------------------------------------------


@dataclass
class _Program:
    """What one drawing program has decided for one file."""

    rng: Random
    prefix: str
    every_id: bool
    count: int = 0
    rules: list[str] = field(default_factory=list)
    definitions: list[str] = field(default_factory=list)

    def chance(self, share: float) -> bool:
        return self.rng.random() < share

    def name(self, tag: str) -> str:
        self.count += 1
        ways = [f"{tag}{self.count}", f"g{1000 + self.count}-{self.count}", f"Ebene_{self.count}"]
        return self.rng.choice([*ways, f"_{self.count}_é"])

    def element(self, tag: str, values: dict[str, str], body: str = "", name: str = "") -> str:
        """An element, with an id if this program gives one to everything."""
        if not name and (self.every_id or self.chance(0.2)):
            name = self.name(tag)
        values = {"id": name, **values} if name else values
        items = list(values.items())
        if self.chance(0.5):
            self.rng.shuffle(items)
        quote = self.rng.choice("\"'")
        text = "".join(f" {key}={quote}{value}{quote}" for key, value in items)
        tag = f"{self.prefix}{tag}"
        if not body and self.chance(0.8):
            return f"<{tag}{text}/>"
        return f"<{tag}{text}>{body}</{tag}>"

    def painted(self, values: dict[str, str], look: dict[str, str]) -> dict[str, str]:
        """Values with a look given as attributes, as a style, or by a class."""
        way = self.rng.choice(["attributes", "style", "class"])
        if way == "attributes":
            return {**values, **look}
        text = ";".join(f"{key}:{value}" for key, value in look.items())
        if way == "style":
            more = self.rng.choice(["", ";", ";display:inline", ";-k-stroke:none;"])
            return {**values, "style": text + more}
        self.count += 1
        self.rules.append(f".st{self.count}{{{text}}}")
        return {**values, "class": self.rng.choice(["st{}", "a st{}"]).format(self.count)}

    def nothing(self) -> str:
        """Something that is not seen, or says nothing about the outline."""
        big = {"width": "70", "height": "50"}
        made: list[Callable[[], str]] = [
            lambda: "<!-- <path d='M0 0h9v9z'/> -->",
            lambda: "\n  ",
            lambda: "<?program page 1?>",
            lambda: self.element("g", {}),
            lambda: self.element("g", {"inkscape:label": "empty", "inkscape:groupmode": "layer"}),
            lambda: self.element("title", {}, "Deck &amp; hull"),
            lambda: self.element("desc", {}, "&#x3c;path/&gt;"),
            lambda: self.element(
                "metadata", {}, '<rdf:RDF xmlns:rdf="urn:rdf"><rdf:li/></rdf:RDF>'
            ),
            lambda: '<k:view id="base" showgrid="false"><inkscape:grid/></k:view>',
            lambda: self.element("rect", {**big, "display": "none"}),
            lambda: self.element("g", {"style": "display:none"}, self.element("rect", big)),
            lambda: self.element("rect", {**big, "visibility": "hidden"}),
            lambda: self.element("rect", self.painted(big, {"fill": "none"})),
            lambda: self.element("rect", self.painted(big, {"fill": "none", "stroke": "none"})),
            lambda: self.element("rect", self.painted(big, {"opacity": "0"})),
            lambda: self.element("rect", self.painted(big, {"fill-opacity": "0"})),
            lambda: self.element("rect", {"width": "0", "height": "5"}),
            lambda: self.element("path", {"d": ""}),
            lambda: self.element("path", {"d": "M5 5"}),
            lambda: self.element("defs", {}, self.element("rect", big)),
            lambda: self.element("symbol", {}, self.element("rect", big)),
            lambda: self.element("clipPath", {}, self.element("rect", big)),
            lambda: self.element("marker", {}, self.element("rect", big)),
            lambda: self.element("mask", {}, self.element("rect", big)),
            lambda: self.element("pattern", {}, self.element("rect", big)),
            lambda: self.element("linearGradient", {}, self.element("stop", {})),
            lambda: self.element("text", {"fill": "none", "x": "5"}, "Tug <!-- -->"),
            lambda: '<x:box xmlns:x="urn:x"><rect width="9" height="9"/></x:box>',
        ]
        return self.rng.choice(made)()

    def nothings(self) -> str:
        return "".join(self.nothing() for _ in range(self.rng.choice([0, 0, 1, 2])))


def _look(program: _Program, values: dict[str, str]) -> dict[str, str]:
    rng = program.rng
    look = {"fill": rng.choice(["#000", "black", "#1f3a5f", "rgb(200, 30, 0)", "currentColor"])}
    if "fill-rule" in values:
        look["fill-rule"] = values.pop("fill-rule")
    if program.chance(0.3):
        look |= {"stroke": "#c00", "stroke-width": "0.0001"}
        if program.chance(0.5):
            look["stroke-dasharray"] = "3,1"
    if program.chance(0.3):
        look |= {"fill-opacity": "1", "stroke-linejoin": "round", "paint-order": "normal"}
    return look


def _transforms(program: _Program, centre: tuple[float, float]) -> tuple[list[str], float]:
    """Maps of the unit disc into a cell, outermost first, and the product of their determinants."""
    rng = program.rng
    size = rng.uniform(4.0, 9.0)
    words, area = [f"translate({_joined(rng, centre)})"], 1.0
    if program.chance(0.5):
        angle = rng.choice([90.0, 180.0, -45.0, rng.uniform(-360.0, 360.0)])
        words.append(f"rotate({_number(rng, angle)})")
    if program.chance(0.3):
        words.append(rng.choice(["scale(-1,1)", "scale(1 -1)", "matrix(0 1 1 0 0 0)"]))
    if program.chance(0.3):
        angle = rng.uniform(-30.0, 30.0)  # stretches by less than 1.4
        words.append(f"{rng.choice(['skewX', 'skewY'])}({_number(rng, angle)})")
        size /= 1.4
    if program.chance(0.3):
        words.append("translate(5,-7) translate(-5 7)")
    flat = rng.uniform(0.4, 1.0)
    words.append(f"scale({_joined(rng, (size, size * flat))})")
    return words, area * size * size * flat


def _object(program: _Program, centre: tuple[float, float]) -> tuple[str, float]:
    """One shape in a cell, in as many groups as its transforms are spread over."""
    rng = program.rng
    tag, values, area = rng.choice(_SHAPES)(rng)
    words, times = _transforms(program, centre)
    look = _look(program, values)
    own = rng.randint(0, len(words))
    if own < len(words):
        values["transform"] = rng.choice([" ", ",", ""]).join(words[own:])
    text = program.element(tag, program.painted(values, look))
    if program.chance(0.2):
        name = program.name("def")
        shape = program.element(tag, program.painted(values, look), name=name)
        program.definitions.append(shape)
        href = rng.choice(["href", "xlink:href"])
        text = program.element("use", {href: f"#{name}"})
    for word in reversed(words[:own]):
        text = program.nothings() + text
        values = {"transform": word} if program.chance(0.9) else {"style": ""}
        if "style" in values:
            values["transform"] = word
        holder = rng.choice(["g", "g", "g", "a", "switch"])
        if holder in {"a", "switch"}:  # links do not lie in links directly, and switches choose
            text = program.element("g", {}, text)
        text = program.element(holder, values, text)
    return _wrapped(program, text), area * times


def _wrapped(program: _Program, text: str) -> str:
    """In a layer, an inner page or a clip that show all of it."""
    rng = program.rng
    way = rng.choice(["", "", "layer", "svg", "clip", "symbol", "hidden"])
    if way == "layer":
        label = {"inkscape:groupmode": "layer", "inkscape:label": rng.choice(["cut", "Schnitt 1"])}
        return program.element("g", label, text)
    if way == "svg":
        return program.element("svg", {"overflow": "visible"} if program.chance(0.3) else {}, text)
    if way == "clip":
        name = program.name("clip")
        path = {"d": "M-10-10H200V200H-10Z", "clip-rule": "evenodd"}
        program.definitions.append(
            program.element("clipPath", {}, program.element("path", path), name=name)
        )
        return program.element("g", {"clip-path": f"url(#{name})"}, text)
    if way == "symbol":
        name = program.name("symbol")
        program.definitions.append(
            program.element("symbol", {"viewBox": "0 0 80 60"}, text, name=name)
        )
        return program.element("use", {"xlink:href": f"#{name}"})
    if way == "hidden":
        inner = program.element("g", {"visibility": "visible"}, text)
        return program.element("g", {"visibility": "hidden"}, inner)
    return text


def written(rng: Random, encodings: Sequence[str] = ENCODINGS) -> Written:
    """Write a drawing as some program does, in one of some encodings."""
    prefix = rng.choice(["", "", "", "svg:"])
    program = _Program(rng, prefix, every_id=rng.random() < 0.5)
    cells = [
        (CELL * (i + 0.5), CELL * (j + 0.5))
        for i in range(round(PAGE[0] / CELL))
        for j in range(round(PAGE[1] / CELL))
    ]
    body, area = "", 0.0
    for centre in rng.sample(cells, rng.randint(1, 4)):
        text, more = _object(program, centre)
        body += program.nothings() + text
        area += more
    body = program.nothings() + body + program.nothings()
    if program.chance(0.5):
        body = program.element("g", {"inkscape:label": "Ebene 1"}, body)
    rules = program.rules[:]
    rng.shuffle(rules)  # each is of a class of its own
    sheet = rng.choice(["\n", ""]).join([*rules, "@font-face{font-family:a}", ".unused{fill:none}"])
    sheet = rng.choice([f"<![CDATA[{sheet}]]>", sheet])
    style = program.element("style", rng.choice([{}, {"type": "text/css"}]), sheet)
    parts = [style, program.element("defs", {}, "".join(program.definitions)), body]
    if program.chance(0.3):
        parts.reverse()  # definitions may come last
    return Written(_file(program, "".join(parts), rng.choice(encodings)), area)


def _file(program: _Program, body: str, encoding: str) -> bytes:
    rng, (width, height) = program.rng, PAGE
    name = f"xmlns:{program.prefix.rstrip(':')}" if program.prefix else "xmlns"
    spaces = f'{name}="{SVG}" xmlns:xlink="http://www.w3.org/1999/xlink"'
    spaces += f' xmlns:inkscape="{INKSCAPE}" xmlns:k="urn:k"'
    inch = 25.4
    sizes = [
        f'width="{width:g}mm" height="{height:g}mm"',
        f'width="{width / 10:g}cm" height="{height:g}mm"',
        f'width="{width / inch!r}in" height="{height / inch!r}in"',
        f'width="{width / inch * 96!r}" height="{height / inch * 96!r}px"',
        f'width="{width:g}mm"',
        f'height="{height:g}mm" width="100%"',
    ]
    values = f'{rng.choice(sizes)} viewBox="0 0 {width:g} {height:g}"'
    if program.chance(0.3):
        values += ' version="1.1" xml:space="preserve" style="enable-background:new 0 0 80 60;"'
    root = f"<{program.prefix}svg {spaces} {values}>{body}</{program.prefix}svg>"
    head = rng.choice(["", "<!-- made by hand -->", "<!DOCTYPE svg>"])
    if program.chance(0.3):
        head = f'<!DOCTYPE svg [<!ENTITY ns_svg "{SVG}"><!ENTITY ns_x "urn:x">]>'
        root = root.replace(f'"{SVG}"', '"&ns_svg;"', 1)
    declared = encoding.removesuffix("-sig")
    declaration = f'<?xml version="1.0" encoding="{declared}"?>'
    if declared != "iso-8859-1" and program.chance(0.3):
        declaration = ""
    return (declaration + head + root).encode(encoding)


# --- The same, gone wrong ------------------------------------------------------------------------

_NASTY: Final = (
    *("", " ", "none", "inherit", "initial", "unset", "NaN", "inf", "-1", "0", "1e999", "-1e999"),
    *("1e308", "1e-320", "100%", "5em", "5mmx", "calc(1px + 1%)", "var(--x)", "var(--x,red)"),
    *("url(#", "url(#a)", "url()", "#", "#a", "((((", "))))", "a,b;c:d", "1 1 1", "M0 0L1", "é☃"),
    *("translate(1e308) scale(1e308)", "rotate(1e308)", "matrix(0 0 0 0 0 0)", "scale(0)"),
    *("skewX(90)", "0 0 0 0", "0 0 1e-300 1e-300", "evenodd", "hidden", "objectBoundingBox"),
)
_NAMES: Final = (
    *("transform", "d", "points", "width", "height", "viewBox", "style", "class", "clip-path"),
    *("fill", "stroke", "stroke-width", "stroke-dasharray", "opacity", "display", "overflow"),
    *("preserveAspectRatio", "x", "y", "rx", "r", "href", "font-size", "transform-origin", "mask"),
    *("clipPathUnits", "clip-rule", "color", "fill-rule", "vector-effect", "font", "rotate", "dx"),
)


def nastily(rng: Random, data: bytes) -> bytes:
    """Spoil some attributes of a drawing, so that it stays well-formed XML."""
    for code in ("utf-8-sig", "utf-16", "iso-8859-1"):
        try:
            text = data.decode(code)
            break
        except UnicodeError:
            continue
    starts = [i for i, c in enumerate(text) if c == "<" and text[i + 1 : i + 2].isalpha()]
    for at in sorted(rng.sample(starts, min(len(starts), rng.randint(1, 4))), reverse=True):
        end = next(i for i in range(at, len(text)) if text[i] in " />")
        name, value = rng.choice(_NAMES), rng.choice(_NASTY)
        close = text.index(">", end)
        if f" {name}=" not in text[end:close]:
            text = f'{text[:end]} {name}="{value}"{text[end:]}'
    return text.encode(code, errors="xmlcharrefreplace")
