"""A site from one kind of file into the other, with the same answers."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from travel.domain.site import Site
from travel.errors import Fault, InputError
from travel.readers.files import read_bytes
from travel.readers.geopackage import connected
from travel.readers.notes import Notes
from travel.readers.site import read_site
from travel.rulebook import load_rulebook
from travel.writers.files import write_whole
from travel.writers.site_files import write_site_folder, write_site_geopackage


def convert(site_path: Path, target: Path) -> tuple[Path, ...]:
    """Write a site as a GeoPackage (target ends in ``.gpkg``) or as a folder of GeoJSON layers.

    Raises:
        InputError: the site's faults, or a target that exists already, or of another kind
    """
    if target.suffix not in ("", ".gpkg") and not target.is_dir():
        message = f"no site is written as {target.suffix}: a name ending in .gpkg, or a folder for GeoJSON layers"
        raise InputError([Fault(file=str(target), message=message)])
    site = read_site(site_path, load_rulebook().vocabulary)
    if target.exists() and (target.is_file() or any(target.iterdir())):
        raise InputError([Fault(file=str(target), message="exists already; nothing is overwritten")])
    geopackage = target.suffix == ".gpkg"
    terrain, books = site_terrain(site_path, site), site_books(site_path, site)
    beside = {**({terrain[0]: terrain[1]} if terrain else {}), **books}
    folder = target.parent if geopackage else target
    insist_free({folder / name: data for name, data in beside.items()})
    writer = write_site_geopackage if geopackage else write_site_folder
    paths = writer(site, target, site_header(site_path), terrain)
    for name, data in books.items():
        write_whole(folder / name, data)
    return (*paths, *(folder / name for name in books))


def insist_free(files: Mapping[Path, bytes]) -> None:
    """Refuse to write over other files: those that go beside a GeoPackage, or outside the folder."""
    faults = [
        Fault(file=str(path), message="exists already; nothing is overwritten")
        for path, data in ((named.resolve(), data) for named, data in files.items())
        if path.exists() and not (path.is_file() and path.read_bytes() == data)
    ]
    if faults:
        raise InputError(faults)


def site_books(path: Path, site: Site) -> dict[str, bytes]:
    """Give the rulebooks a site names, by their names.

    Raises:
        InputError: each that cannot be read
    """
    notes, out = Notes(), {}
    folder = path if path.is_dir() else path.parent
    for name in site.header.rulebooks:
        read = read_bytes(folder / name, "rulebook", notes.at(file=name))
        if read:
            out[name] = read[0]
    notes.insist()
    return out


def site_terrain(path: Path, site: Site) -> tuple[str, bytes] | None:
    """Give name and bytes of a site's height grid, if it has one."""
    if site.header.terrain is None:
        return None
    folder = path if path.is_dir() else path.parent
    return site.header.terrain.file, (folder / site.header.terrain.file).read_bytes()


def site_header(path: Path) -> bytes:
    """Give a site's header as it stands, from beside or inside its files."""
    if path.is_dir():
        return (path / "site.toml").read_bytes()
    beside = path.with_suffix(".toml")
    if beside.exists():
        return beside.read_bytes()
    return header_in_geopackage(path)


def header_in_geopackage(path: Path) -> bytes:
    """Give the header text stored inside a GeoPackage."""
    with connected(path) as base:
        row = base.execute("select toml from site_header").fetchone()
    return str(row[0]).encode("utf-8")
