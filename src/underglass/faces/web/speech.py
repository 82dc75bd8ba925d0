"""How things are said in one language and unit: degrees, days, names of crops, shelters and causes."""

from __future__ import annotations

import re

from underglass.faces.cli.words import degrees, difference
from underglass.faces.web.texts import Say, say_in
from underglass.units import BTU_WH, INCH_M, SQUARE_FOOT_M2, US_GALLON_M3

__all__ = ["Speech"]

HARD_SPACE = "\u00a0"


class Speech:
    """Words and numbers in a language and a unit, 'c' or 'f'."""

    def __init__(self, language: str, units: str) -> None:
        self.language, self.units = language, units
        self.say: Say = say_in(language)

    def degrees(self, temp_c: float) -> str:
        """A temperature in the chosen unit, that no end of line divides."""
        return degrees(temp_c, self.units).replace(" ", HARD_SPACE)

    def difference(self, diff_k: float) -> str:
        """A temperature difference in the chosen unit."""
        return f"{difference(diff_k, self.units)}{HARD_SPACE}°{'F' if self.units == 'f' else 'C'}"

    def day(self, iso: str | None) -> str:
        """'2027-04-02' as 2 Apr or 2. Apr, that no end of line divides."""
        if not iso:
            return "–"
        month, day = iso[-5:].split("-")
        said = self.say("date.day_month", day=int(day), month=self.say(f"month3.{month}"))
        return said.replace(" ", HARD_SPACE)

    def crop(self, crop_id: str, name: str) -> str:
        """A crop's everyday name."""
        return self.say(f"crop.{crop_id}", or_else=name.split(" (")[0].split(" / ")[0])

    def shelter(self, name: str) -> str:
        """A shelter's name: a preset's in the chosen language, the family's own as it is."""
        return self.say(f"shelter.{name}", or_else=name)

    def want(self, label: str) -> str:
        """Something that is wanted: a kind of dish in the chosen language, the family's own words as they are."""
        return self.say(f"want.{label}", or_else=label)

    def doing(self, words: str) -> str:
        """What work that goes on is at, as services say it: a few words, perhaps with a crop or a shelter."""
        for begins, key in (("fate of ", "fate"), ("inside the ", "inside"), ("plan for ", "plan")):
            if words.startswith(begins):
                name = words.removeprefix(begins)
                return self.say(f"doing.{key}", name=self._crop_called(name) if key == "fate" else self.shelter(name))
        if words.startswith("what would help "):
            return self.say("doing.help", name=self.want(words.removeprefix("what would help ")))
        return self.say(f"doing.{words}", or_else=words)

    def in_the_way(self, words: str) -> str:
        """A limit that no plan keeps, with its number where it has one; a decided sowing as the service says it."""
        number = re.match(r"([\d.]+) (minutes of work a week|years of rotation|sowings a week|for seed)$", words)
        if number:
            return self.say(f"way.{number[2]}", n=number[1])
        return self.say(f"way.{words}", or_else=words)

    def _crop_called(self, name: str) -> str:
        from underglass.crop.catalogue import catalogue

        return next((self.crop(c.id, name) for c in catalogue().values() if c.name == name), name)

    def cause(self, cause: str) -> str:
        """A cause of loss."""
        return self.say(f"cause.{cause}", or_else=cause)

    def route(self, grown_in: str, raised_in: str | None) -> str:
        """Where a sowing is raised and grown."""
        if raised_in is None:
            return self.say("sow.direct", bed=self.shelter(grown_in))
        return self.say("sow.raised", nursery=self.shelter(raised_in), bed=self.shelter(grown_in))

    def length(self, metres: float) -> str:
        """A length as one measures it at home: 45 cm, 1.8 m; 18 in, 6 ft."""
        if self.units == "f":
            inches = metres / INCH_M
            return f"{inches:.0f} in" if inches < 35.5 else f"{inches / 12.0:.1f}".removesuffix(".0") + " ft"
        return f"{100.0 * metres:.0f} cm" if metres < 0.995 else f"{metres:.2f}".rstrip("0").rstrip(".") + " m"

    def volume(self, volume_m3: float) -> str:
        """An amount of water in litres or US gallons."""
        if self.units == "f":
            return f"{volume_m3 / US_GALLON_M3:.0f}{HARD_SPACE}gal"
        return f"{1000.0 * volume_m3:.0f}{HARD_SPACE}l"

    def heat(self, wh_m2: float) -> str:
        """Heat for each square metre of bed, or for each square foot where inches are used."""
        sign = "−" if wh_m2 < 0.0 else "+"
        if self.units == "f":
            return f"{sign}{abs(wh_m2) * SQUARE_FOOT_M2 / BTU_WH:.0f}{HARD_SPACE}Btu/ft²"
        return f"{sign}{abs(wh_m2):.0f}{HARD_SPACE}Wh/m²"

    def water_depth(self, litres_per_m2: float) -> str:
        """An amount of water for a bed: litres for each square metre, or US gallons for each square foot."""
        if self.units == "f":
            return f"{litres_per_m2 * SQUARE_FOOT_M2 / (1000.0 * US_GALLON_M3):.1f} gal/ft²"
        return f"{litres_per_m2:.0f} l/m²"

    def water_need(self, mm_per_day: float) -> str:
        """What a bed drinks in a day: millimetres as litres on a square metre, or as US gallons on 100 square feet."""
        amount = mm_per_day if self.units == "c" else mm_per_day * 100.0 * SQUARE_FOOT_M2 / (1000.0 * US_GALLON_M3)
        return self.say(f"today.water_{self.units}", n=f"{amount:.1f}")
