"""The places for controls at a site, and the luminaires behind each."""

from __future__ import annotations

import numpy as np

from demo_data.model import AS_OF, MODELS, day_of
from demo_data.names import PLACES, WALL_PLACES
from demo_data.world import FOREVER, FixtureGroup, Place, Site

# watts of one luminaire before and after the retrofit: (lamp, watts, basis), (LED watts)
_POLE = ((("HPS", 250.0, "lamp"), 105.0), (("HPS", 188.0, "input"), 72.0), (("HPS", 295.0, "input"), 118.0))
_FLOOD = ((("MH", 458.0, "input"), 180.0), (("MH", 400.0, "lamp"), 165.0))
_WALL = ((("HPS", 150.0, "lamp"), 52.0), (("HPS", 91.0, "input"), 38.0))
_CANOPY = ((("CFL", 54.0, "input"), 24.0), (("CFL", 32.0, "input"), 15.0))
_SIZE = {"high": 1.7, "middle": 1.15, "elementary": 0.85, "other": 0.95}


class SiteBuilder:
    """Fills one site with places; every choice is drawn from the site's own generator."""

    def __init__(self, site: Site, rng: np.random.Generator) -> None:
        self.site, self.rng = site, rng
        self._used: dict[str, int] = {}

    def build(self) -> None:
        """Photocontrols on poles and walls, batches, time switches, timers, sensors and contactors."""
        self._single_photocontrols(self._number(21))
        self._batches()
        self._time_switches(self._number(5.2))
        for _ in range(self._number(4.0)):
            self._add(self._label("timer", WALL_PLACES), "timer A", _CANOPY, (2, 7))
        for _ in range(self._number(4.0)):
            self._add(self._label("sensor", WALL_PLACES), "occupancy sensor A", _CANOPY, (1, 4))
        for _ in range(self._number(3.4)):
            self._circuit()

    def _has_new_circuits(self) -> bool:
        """Whether the retrofit brought circuits of its own; a snapshot register must have seen them."""
        day = self.site.retrofit_day
        return day is not None and (self.site.keeps_removed or day < day_of(AS_OF) - 60)

    def _number(self, mean: float) -> int:
        return round(mean * _SIZE[self.site.kind] * float(self.rng.uniform(0.85, 1.15)))

    def _label(self, what: str, places: tuple[str, ...]) -> str:
        place = places[int(self.rng.integers(len(places)))]
        self._used[place + what] = self._used.get(place + what, 0) + 1
        return f"{place} {what} {self._used[place + what]}"

    def _single_photocontrols(self, number: int) -> None:
        for n in range(number):
            other = {"photocontrol A": "photocontrol B", "photocontrol B": "photocontrol A"}
            model = self.site.photocontrol
            if self.rng.random() < 0.2:
                model = other.get(model, model)
            flood = model == "photocontrol A" and self.rng.random() < 0.28
            kind = "flood pole" if flood else "pole" if n % 3 else "wall pack"
            label = self._label(kind, PLACES)
            lights = _FLOOD if flood else _WALL if kind == "wall pack" else _POLE
            place = self._add(label, model, lights, (1, 3) if kind != "pole" else (1, 5))
            if self.rng.random() < 0.5 and kind == "pole":
                place.label_code = f"P{n + 1:02d}"

    def _batches(self) -> None:
        """Like photocontrols in one register row; half of them came new with the LED retrofit."""
        for _ in range(max(1, self._number(1.15))):
            quantity = int(self.rng.integers(8, 21))
            label = self._label("wall packs", PLACES)
            with_retrofit = self._has_new_circuits() and self.rng.random() < 0.55
            self._add(label, self.site.photocontrol, _WALL, (1, 2), quantity, born_led=with_retrofit)
        if self.rng.random() < 0.4:
            quantity = int(self.rng.integers(6, 15))
            self._add(
                self._label("canopy sensors", WALL_PLACES), "occupancy sensor A", _CANOPY, (1, 2), quantity
            )

    def _time_switches(self, number: int) -> None:
        for _ in range(number):
            led = self._has_new_circuits() and self.rng.random() < 0.45
            model = "time switch B" if led else "time switch A"
            self._add(self._label("time clock", PLACES), model, _WALL, (4, 13), born_led=led)

    def _circuit(self) -> None:
        """A contactor that carries the lamps, and the photocontrol that drives its coil."""
        name = self._label("circuit", PLACES)
        contactor = self._add(name + " contactor", "contactor A", _POLE, (8, 21))
        pilot = self._add(name + " pilot", "photocontrol D", _POLE, (1, 2))
        pilot.fixtures, pilot.switched_by, pilot.starts = [], contactor, contactor.starts

    def _add(
        self, label: str, model: str, lights: tuple[tuple[tuple[str, float, str], float], ...],
        luminaires: tuple[int, int], quantity: int = 1, born_led: bool = False,
    ) -> Place:  # fmt: skip
        old, led_watts = lights[int(self.rng.integers(len(lights)))]
        number = quantity * int(self.rng.integers(*luminaires))
        retrofit = self.site.retrofit_day if born_led or self.rng.random() < 0.88 else None
        account = self._account(model)
        installed = self.site.starts - float(self.rng.triangular(60, 900, 3700 if quantity == 1 else 2400))
        if born_led and retrofit is not None and retrofit > self.site.starts:
            installed = retrofit + 0.5
        fixtures = []
        if not (born_led and retrofit is not None):
            fixtures.append(
                FixtureGroup(
                    old[0], number, old[1], old[2], min(installed, -4500.0), retrofit or FOREVER, account
                )
            )
        if retrofit is not None:
            fixtures.append(
                self._led(number, led_watts, retrofit, account, led_from=-FOREVER if born_led else retrofit)
            )
        starts = max(self.site.starts, installed)
        place = Place(self.site, label, model, quantity, installed, fixtures, starts)
        self.site.places.append(place)
        return place

    def _led(self, number: int, watts: float, retrofit: float, account: str, led_from: float) -> FixtureGroup:
        known = self.rng.random() < 0.8
        peak = round(float(watts * self.rng.uniform(0.25, 0.6)), 1) if known else None
        width = float(self.rng.integers(15, 45) * 10) if known else None
        return FixtureGroup("LED", number, watts, "input", led_from, FOREVER, account, number, peak, width)

    def _account(self, model: str) -> str:
        area = self.site.unmetered and MODELS[model].kind in ("photocontrol", "contactor")
        return (
            f"{self.site.site_id}-AREA" if area and self.rng.random() < 0.6 else f"{self.site.site_id}-BLDG"
        )


def fill_sites(sites: list[Site], seed: int) -> None:
    """Give every site its places."""
    for number, site in enumerate(sites):
        SiteBuilder(site, np.random.default_rng([seed, 1, number])).build()
