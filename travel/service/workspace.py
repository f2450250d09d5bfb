"""A site with its rulebook and survey, read and built once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from travel.domain.layers import LAYERS, LayerSpec
from travel.domain.rules import Rulebook, Vocabulary
from travel.domain.site import Amendment, Site
from travel.errors import InputError
from travel.readers.cross import check_between
from travel.readers.notes import Notes
from travel.readers.site import read_site
from travel.readers.source import Feature, RawLayer, Source
from travel.readers.values import columns
from travel.rulebook import load_rulebook, resolve
from travel.survey import Survey, Tolerance, build_survey, lay_on
from travel.units import SI_PER_UNIT, pct_to_ratio


@dataclass(frozen=True, eq=False, kw_only=True)
class Workspace:
    """Everything that many questions about one site share."""

    path: Path
    rulebooks: tuple[Path, ...] = ()
    amendments: tuple[Amendment, ...] = ()

    @cached_property
    def rulebook(self) -> Rulebook:
        """The default book with the site's and the given books laid over it."""
        own = self._site_books
        return load_rulebook((*own, *self.rulebooks))

    @cached_property
    def _site_books(self) -> tuple[Path, ...]:
        folder = self.path if self.path.is_dir() else self.path.parent
        return tuple(folder / name for name in self._read.header.rulebooks)

    @cached_property
    def _read(self) -> Site:
        return read_site(self.path, load_rulebook(self.rulebooks).vocabulary)

    @cached_property
    def site(self) -> Site:
        """The site with the amendments laid over it; each is checked as the reader checks the files."""
        if not self.amendments:
            return self._read
        check_amendments(self._read, self.amendments, self.rulebook.vocabulary)
        changed = lay_on(self._read, self.amendments)
        _check_between(changed, self.amendments)
        return changed

    @cached_property
    def survey(self) -> Survey:
        """The site cut into pieces."""
        return build_survey(self.site, self._tolerance)

    @property
    def _tolerance(self) -> Tolerance:
        """Half-bands as the site states them, else the class values of the rulebook."""
        stated = self.site.header.tolerance

        def band(value: float | None, field: str) -> float:
            if value is not None:
                return pct_to_ratio(value) if field.endswith("_pct") else value
            found = resolve(self.rulebook, f"tolerance.{field}", method="measured")
            return found.value * SI_PER_UNIT[found.limit.unit] if found else float("nan")

        return Tolerance(
            height_m=band(stated.height_m, "height_m"),
            width_m=band(stated.width_m, "width_m"),
            grade_ratio=band(stated.grade_pct, "grade_pct"),
            cross_slope_ratio=band(stated.cross_slope_pct, "cross_slope_pct"),
            plan_m=band(stated.plan_m, "plan_m"),
        )


def check_amendments(site: Site, amendments: tuple[Amendment, ...], vocabulary: Vocabulary) -> None:
    """Refuse a changed value that no file could hold: words that are not listed, times without offset, blank kinds."""
    notes = Notes(file="amendments")
    for amendment in amendments:
        spec = LAYERS.get(amendment.layer)
        entry = spec.field(amendment.field) if spec else None
        if spec is None or entry is None or entry.kind in ("id", "flag", "number", "integer", "road"):
            if entry is not None and entry.needed and amendment.value is None:
                notes.at(layer=amendment.layer, feature=amendment.feature).fault("is needed", field=amendment.field)
            continue
        alone = LayerSpec(name=spec.name, geometry=spec.geometry, about=spec.about, fields=(entry,))
        feature = Feature(number=1, properties={"id": amendment.feature, entry.name: amendment.value}, geometry=None)
        columns(alone, (feature,), vocabulary, notes.at(layer=amendment.layer))
    notes.insist()


def _check_between(site: Site, amendments: tuple[Amendment, ...]) -> None:
    """Refuse changes that leave a feature as no file could hold it: a sign that says nothing, hours with one end."""
    notes = Notes(file="amendments")
    changed = dict.fromkeys((a.layer, a.feature) for a in amendments if a.layer != "roads")
    for name, feature in changed:
        layer = site.layers[name]
        if feature in layer.ids:
            held = Feature(number=1, properties=layer.values(layer.index(feature)), geometry=None)
            alone = {name: RawLayer(file=notes.file, features=(held,))}
            check_between(Source(folder=Path(), header_file="", layers=alone), notes)
    notes.insist()


def together(*parts: Callable[[], Any]) -> list[Any]:
    """Give what several readings give; where some fail, every fault of all of them, each once.

    Raises:
        InputError: the faults; of one reading alone as it raised them
    """
    out, errors = [], []
    for part in parts:
        try:
            out.append(part())
        except InputError as error:
            errors.append(error)
    if errors:
        faults = tuple(dict.fromkeys(fault for error in errors for fault in error.faults))
        raise errors[0] if faults == errors[0].faults else InputError(faults)
    return out


Progress = Callable[[str, float], None]
