"""Contacts: closed pulls low, and whatever is cut, broken or contradictory counts as the worst."""

import pytest
from wall_desk import PINS, DeskFactory

from controller.run.image import PanelImage, Selector
from firmware_bridge.panel import Panel

CONTACTS = {
    "estop_ok": PINS.estop_ok,
    "selector_hand": PINS.selector_hand,
    "selector_auto": PINS.selector_auto,
    "button": PINS.button,
    "second_high_float": PINS.second_high_float,
    "low_float": PINS.low_float,
}
WELL = PanelImage(Selector.AUTO, button=False, estop_ok=True, high_float=False, low_float=False)


@pytest.fixture
def factory() -> DeskFactory:
    return DeskFactory()


@pytest.fixture
def panel(factory: DeskFactory) -> Panel:
    """Everything well: AUTO, emergency stop not pressed, water between the floats."""
    panel = Panel(PINS, factory)
    factory.close_contacts(PINS.selector_auto, PINS.estop_ok, PINS.second_high_float, PINS.low_float)
    return panel


def test_a_wall_where_all_is_well_reads_so(panel: Panel):
    assert panel.read() == WELL
    assert panel.unread == ()


def test_every_contact_has_the_pull_up_on(panel: Panel, factory: DeskFactory):
    assert {factory.pin(pin).pull for pin in CONTACTS.values()} == {"up"}
    assert {factory.pin(pin).function for pin in CONTACTS.values()} == {"input"}


def test_with_every_wire_cut_everything_is_at_its_worst(panel: Panel, factory: DeskFactory):
    factory.open_contacts(*CONTACTS.values())
    assert panel.read() == PanelImage(
        Selector.OFF, button=False, estop_ok=False, high_float=True, low_float=True
    )


@pytest.mark.parametrize(
    ("hand", "auto", "selector"),
    [
        (True, False, Selector.HAND),
        (False, True, Selector.AUTO),
        (False, False, Selector.OFF),
        (True, True, Selector.IMPOSSIBLE),
    ],
)
def test_the_selector_follows_its_two_contacts(
    panel: Panel, factory: DeskFactory, hand: bool, auto: bool, selector: Selector
):
    for pin, closed in ((PINS.selector_hand, hand), (PINS.selector_auto, auto)):
        (factory.close_contacts if closed else factory.open_contacts)(pin)
    assert panel.read().selector is selector


@pytest.mark.parametrize(
    ("contact", "field", "worst"),
    [
        ("estop_ok", "estop_ok", False),
        ("second_high_float", "high_float", True),
        ("low_float", "low_float", True),
        ("selector_hand", "selector", Selector.IMPOSSIBLE),
        ("selector_auto", "selector", Selector.IMPOSSIBLE),
        ("button", "button", False),
    ],
)
def test_a_contact_that_cannot_be_read_counts_as_the_worst_and_not_as_before(
    panel: Panel, factory: DeskFactory, contact: str, field: str, worst: object
):
    assert panel.read() == WELL
    factory.broken.add(CONTACTS[contact])
    image = panel.read()
    assert getattr(image, field) == worst
    assert panel.unread == (contact,)
    others = {name for name in WELL.__slots__ if name != field}
    assert all(getattr(image, name) == getattr(WELL, name) for name in others)
    factory.broken.clear()
    assert panel.read() == WELL
    assert panel.unread == ()


def test_the_button_is_read_through_its_debouncing_by_the_factory_s_clock(panel: Panel, factory: DeskFactory):
    read = []
    for closed in (False, False, True, True, False, False):
        (factory.close_contacts if closed else factory.open_contacts)(PINS.button)
        read.append(panel.read().button)
        factory.now_s += 0.05
    assert read == [False, False, False, True, True, False]


def test_a_closed_panel_reads_as_a_wall_with_every_wire_cut(panel: Panel):
    panel.close()
    assert panel.read() == PanelImage(
        Selector.IMPOSSIBLE, button=False, estop_ok=False, high_float=True, low_float=True
    )
