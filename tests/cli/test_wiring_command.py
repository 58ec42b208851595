"""`tankhand wiring`: every pin once, cautions first, mains and extra-low voltage apart in the sketch."""

import json
import re
import shutil
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path
from unicodedata import east_asian_width
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner, Result

from controller.cli import main
from controller.cli.cautions import WIRING
from controller.cli.parts_list import parts_list
from controller.cli.wired_pins import board_pins
from controller.cli.wiring_notes import scale_lines, wiring_notes
from controller.cli.wiring_sketch import wiring_svg
from controller.settings.load import demo_site_folder
from controller.settings.values import Pump, Scale, Site

SVG = "{http://www.w3.org/2000/svg}"
# The general-purpose pins on the header of an RP2040-class board (from memory): GP0 to GP22 and the three
# converter inputs GP26 to GP28.
HEADER = {*range(23), 26, 27, 28}


def wiring(*words: str) -> Result:
    return CliRunner().invoke(main, ["wiring", *words])


def with_pumps(site: Site, number: int, name: str = "pump_{}") -> Site:
    like = next(iter(site.rig.pumps.values()))
    pumps = {name.format(n): replace(like, name=name.format(n), channel=n) for n in range(number)}
    return replace(site, rig=replace(site.rig, pumps=pumps))


def without_pins(folder: Path) -> Path:
    site = folder / "site"
    shutil.copytree(demo_site_folder(), site)
    rig = site / "rig.toml"
    text = rig.read_text(encoding="utf-8")
    text = re.sub(r"(?m)^port = .*\n", "", text)
    for section in (r"pins", r"pins\.agitators", r"board\.front_ends"):
        text = re.sub(rf"(?ms)^\[{section}\].*?(?=^\[)", "", text)
    rig.write_text(text, encoding="utf-8")
    return site


def test_the_cautions_come_before_anything_else_and_defer_to_licensed_work():
    shown = wiring().stdout
    places = [shown.index(caution) for caution in WIRING]
    assert places == sorted(places)
    assert places[-1] < shown.index("GPIO")
    for word in (
        "licensed electrician",
        "local code",
        "residual-current",
        "air gap",
        "drip loop",
        "pull-down",
        "fuse",
    ):
        assert word in shown, word


def test_every_pin_of_the_demo_site_is_told_with_its_role(demo_site: Site):
    answer = json.loads(wiring("--json").stdout)
    told = {row["key"]: row["pin"] for row in answer["computer"]}
    pins = demo_site.rig.pins
    assert pins is not None
    single = {
        key: getattr(pins, key) for key in type(pins).__slots__ if key not in ("agitators", "active_low")
    }
    assert told == {**single, **{f"agitators.{name}": pin for name, pin in pins.agitators.items()}}
    assert [row["pump"] for row in answer["decoder"]] == [
        pump.name for pump in sorted(demo_site.rig.pumps.values(), key=lambda pump: pump.channel)
    ]
    assert answer["missing"] == []


def test_the_board_has_every_pin_of_its_header_at_most_once():
    used = [wired.pin for wired in board_pins()]
    assert len(used) == len(set(used))
    assert set(used) <= HEADER


def test_a_relay_that_a_low_level_switches_is_told_as_such(demo_site: Site):
    pins = demo_site.rig.pins
    assert pins is not None
    site = replace(demo_site, rig=replace(demo_site.rig, pins=replace(pins, active_low=frozenset({"air"}))))
    svg = wiring_svg(site)
    assert svg.count("on at low level") == 1
    assert ("pull-up resistor", 3) in {(part.part, part.quantity) for part in parts_list(site)}


@pytest.mark.parametrize("number", [1, 7, 16])
def test_the_parts_are_counted_from_the_site(demo_site: Site, number: int):
    site = with_pumps(demo_site, number)
    counted = {part.part: part.quantity for part in parts_list(site)}
    assert counted["peristaltic pump with stepper motor"] == number
    assert counted["stepper driver with STEP, DIR and ENABLE"] == number
    assert counted["stock agitator"] == len(site.rig.agitators)
    # stir, air, drain and permit, and one an agitator
    assert counted["relay with driver"] == 4 + len(site.rig.agitators)


def test_a_site_without_pins_says_what_is_missing_and_where_and_exits_2(tmp_path: Path):
    site = without_pins(tmp_path)
    result = wiring("--site", str(site), "--svg", str(tmp_path / "w.svg"))
    assert result.exit_code == 2
    for key in ("board.port", "board.front_ends", "pins"):
        assert f"rig.toml: {key}: " in result.stderr
    assert "[pins]" in (tmp_path / "w.svg").read_text(encoding="utf-8")
    missing = json.loads(wiring("--site", str(site), "--json").stdout)["missing"]
    assert [fault["key"] for fault in missing] == ["board.port", "board.front_ends", "pins"]


@dataclass(frozen=True)
class Area:
    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: "Area") -> bool:
        across = self.left < other.right and other.left < self.right
        return across and self.top < other.bottom and other.top < self.bottom

    def holds(self, other: "Area") -> bool:
        beside = self.left <= other.left and other.right <= self.right
        return beside and self.top <= other.top and other.bottom <= self.bottom


def text_area(node: ElementTree.Element) -> Area:
    """Give the area of one line of monospaced text, 0.61 of its size a character (common fonts: 0.60)."""
    words, size = node.text or "", float(node.get("font-size", "0"))
    assert node.get("text-anchor") is None
    x, y = float(node.get("x", "nan")), float(node.get("y", "nan"))
    places = sum(2 if east_asian_width(character) in "WF" else 1 for character in words)
    return Area(x, y - 0.78 * size, x + 0.61 * size * places, y + 0.22 * size)


def rect_area(node: ElementTree.Element) -> Area:
    x, y, width, height = (float(node.get(key, "nan")) for key in ("x", "y", "width", "height"))
    return Area(x, y, x + width, y + height)


def areas(svg: str) -> tuple[ElementTree.Element, dict[str, ElementTree.Element]]:
    root = ElementTree.fromstring(svg)
    return root, {node.get("id", ""): node for node in root.iter(f"{SVG}g")}


ODD = 'Ros<é> & "sönś" 植物の温室 ]]> \x1b[31m --><script>'


@pytest.mark.parametrize("number", range(1, 17))
def test_the_sketch_keeps_mains_and_extra_low_voltage_apart_and_no_texts_meet(demo_site: Site, number: int):
    site = with_pumps(demo_site, number, "a_name_as_long_as_names_may_become_{:02d}xxx")
    root, groups = areas(wiring_svg(site))
    elv, mains, cautions = (
        rect_area(next(groups[name].iter(f"{SVG}rect")))
        for name in ("extra-low-voltage", "mains", "cautions")
    )
    assert mains.left - elv.right >= 100
    assert not any(one.meets(other) for one, other in combinations((elv, mains, cautions), 2))
    for name, area in (("extra-low-voltage", elv), ("mains", mains)):
        inside = [text_area(node) for node in groups[name].iter(f"{SVG}text")]
        inside += [rect_area(node) for node in groups[name].iter(f"{SVG}rect")]
        assert all(area.holds(one) for one in inside), name
    texts = [(node.text, text_area(node)) for node in root.iter(f"{SVG}text")]
    assert [(one, other) for (one, a), (other, b) in combinations(texts, 2) if a.meets(b)] == []
    assert all(float(node.get("font-size", "0")) >= 9 for node in root.iter(f"{SVG}text"))


@pytest.mark.parametrize("number", [1, 11, 16])
def test_every_pin_pump_and_caution_stands_in_the_sketch_once(demo_site: Site, number: int):
    site = with_pumps(demo_site, number)
    root, _ = areas(wiring_svg(site))
    told = [node.get("data-pin") for node in root.iter(f"{SVG}g") if node.get("data-pin")]
    computer = [row["pin"] for row in json.loads(wiring("--json").stdout)["computer"]]
    wanted = [*(f"GPIO{pin}" for pin in computer), *(f"GP{wired.pin}" for wired in board_pins())]
    assert sorted(told, key=str) == sorted(wanted)
    written = [node.text for node in root.iter(f"{SVG}text")]
    for name in (*wanted, *site.rig.pumps, *(wired.role for wired in board_pins())):
        assert written.count(name) == 1, name
    channels = [node.get("data-channel") for node in root.iter(f"{SVG}g") if node.get("data-channel")]
    assert channels == [str(channel) for channel in range(number)]
    everything = " ".join(text or "" for text in written)
    for caution in WIRING:
        assert everything.count(caution) == 1


def test_parts_do_not_lie_on_one_another(demo_site: Site):
    root, _ = areas(wiring_svg(with_pumps(demo_site, 16)))
    parts = [rect_area(node) for node in root.iter(f"{SVG}rect") if node.get("class") == "part"]
    assert len(parts) > 50
    assert [(one, other) for one, other in combinations(parts, 2) if one.meets(other)] == []


def test_no_plain_wire_enters_the_gap(demo_site: Site):
    root, groups = areas(wiring_svg(demo_site))
    elv = rect_area(next(groups["extra-low-voltage"].iter(f"{SVG}rect")))
    mains = rect_area(next(groups["mains"].iter(f"{SVG}rect")))
    crossing = set()
    for line in root.iter(f"{SVG}polyline"):
        across = [float(point.split(",")[0]) for point in line.get("points", "").split()]
        if min(across) < mains.left and max(across) > elv.right:
            crossing.add(line.get("class"))
    assert crossing == {"isolated"}


def test_odd_names_become_text_and_never_markup(demo_site: Site):
    like: Pump = next(iter(demo_site.rig.pumps.values()))
    site = replace(
        demo_site,
        policy=replace(demo_site.policy, title=ODD * 9, name=ODD),
        rig=replace(demo_site.rig, pumps={ODD: replace(like, name=ODD, channel=0)}),
    )
    root, _ = areas(wiring_svg(site))
    assert "script" not in {node.tag.rpartition("}")[2] for node in root.iter()}
    written = " ".join(node.text or "" for node in root.iter(f"{SVG}text"))
    assert '<é> & "sönś"' in written
    assert "\x1b" not in written
    right = float(root.get("width", "0"))
    assert all(text_area(node).right <= right for node in root.iter(f"{SVG}text"))


def test_the_sketch_needs_nothing_else_and_speaks_to_those_who_listen(demo_site: Site):
    svg = wiring_svg(demo_site)
    root, _ = areas(svg)
    assert re.findall(r"(?:href|src|url\(|@import)", svg) == []
    assert root.find(f"{SVG}title") is not None
    description = root.find(f"{SVG}desc")
    assert description is not None
    for pump in demo_site.rig.pumps:
        assert pump in (description.text or "")


def test_the_sketch_is_written_where_it_is_wanted_and_a_bad_place_is_one_line(tmp_path: Path):
    assert wiring("--svg", str(tmp_path / "w.svg"), "--json").exit_code == 0
    ElementTree.parse(tmp_path / "w.svg")
    lost = wiring("--svg", str(tmp_path / "nowhere" / "w.svg"))
    assert (lost.exit_code, lost.stdout) == (2, "")
    assert "make the folder" in lost.stderr


def test_scales_and_a_second_probe_are_told_with_how_they_are_proved(demo_site: Site):
    drawing = next(iter(demo_site.rig.pumps.values()))
    rig = replace(
        demo_site.rig,
        scales={"left_shelf": Scale("left_shelf", 3)},
        pumps={drawing.name: replace(drawing, scale="left_shelf")},
        second_probe=demo_site.rig.probe,
    )
    (line,) = scale_lines(replace(demo_site, rig=rig))
    assert (line.pin, line.line, line.scale, line.pumps) == (13, 3, "left_shelf", (drawing.name,))
    scales, probe = wiring_notes(replace(demo_site, rig=rig))
    assert "known weight" in scales
    assert "one probe twice" in probe
    assert "lift one probe out" in probe
    bare = replace(demo_site, rig=replace(demo_site.rig, scales={}, second_probe=None))
    assert wiring_notes(bare) == ()
