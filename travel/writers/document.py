"""The travel plan as a document: the first page, then everything it rests on, then what is filled in by hand."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from travel.domain.plan import TravelPlan
from travel.domain.rules import Rulebook
from travel.domain.site import Site
from travel.writers import document_body as body
from travel.writers.document_front import condition_row, front_of, holds_rows, release_text, unknown_rows
from travel.writers.geo import names_of
from travel.writers.haul_words import HEADING, haul_sections
from travel.writers.numbers import quantity
from travel.writers.page_lists import page_lists
from travel.writers.paper import Block, Bullets, Document, Figure, Forms, Heading, Pairs, Para, Table, fixed_words
from travel.writers.sentences import Names
from travel.writers.svg_map import map_said, paper_map
from travel.writers.text import isolated, plain
from travel.writers.words import value_text

WIDE_MAP_PT = (770.0, 486.0)
"""Room of the map that has a page of its own."""


def travel_document(
    plan: TravelPlan, site: Site, rulebook: Rulebook, workings: body.Workings, remark: str = ""
) -> Document:
    """Give the document of a plan on its site.

    Args:
        plan: the plan
        site: the site it was made on
        rulebook: the one it was made with
        workings: per flag, computed by the caller
        remark: what the supervisor must know besides, shown with the release
    """
    names = names_of(site)
    lists = page_lists(plan, rulebook, names)
    drawing = paper_map(plan, site, *WIDE_MAP_PT)
    blocks: list[Block] = [Figure(drawing, map_said(plan), "Site map", wide=True)]
    blocks += _conditions(plan, rulebook, names)
    blocks += body.schedule(plan, rulebook, names, lists)
    blocks += _trailer(plan)
    blocks += body.profiles(plan)
    blocks += body.findings(plan, rulebook, names, workings)
    blocks += body.looked_at(plan, lists)
    blocks += body.beside(plan, site)
    blocks += _otherwise(plan, lists)
    blocks += body.remedies(plan)
    blocks += _arrival(plan)
    blocks += _cautions(plan, lists)
    blocks += _record(plan)
    blocks += _basis(plan)
    title = f"Travel plan {plain(plan.plan_id)}, {plain(plan.site.get('name', 'site not named'))}"
    return Document(title=title, front=front_of(plan, rulebook, names, remark), blocks=tuple(blocks))


def _conditions(plan: TravelPlan, rulebook: Rulebook, names: Names) -> list[Block]:
    """Give every condition, routine ones too, and every unknown nobody accepted."""
    blocks: list[Block] = [Heading("Conditions"), Para(release_text(plan), "strong")]
    rows = tuple(condition_row(item) for item in plan.conditions if item.kind != "unknown")
    if rows:
        blocks.append(Table(("What must be true or done", "Who", "By when", "Evidence", "Done: name, time"), rows,
                            (7, 2.2, 2.8, 2.8, 2.2), tall=True))  # fmt: skip
    unknowns = tuple(unknown_rows(plan, rulebook, names))
    if unknowns:
        blocks += [
            Heading("Not known", 2),
            Table(
                ("Flags", "What and where", "May be accepted by", "Who, by when, evidence"), unknowns, (1.2, 7, 3, 4)
            ),
        ]
    accepted = [item for item in plan.findings if item.accepted]
    if accepted:
        said = tuple(f"flag {item.flag} ({plain(item.id)}): {isolated(item.accepted)}" for item in accepted)
        blocks += [Heading("Accepted though not known", 2), Bullets(said)]
    return blocks


def _trailer(plan: TravelPlan) -> list[Block]:
    """Give where the machine goes on and off its trailer, how, and what carries it; nothing without one."""
    sections = haul_sections(plan)
    blocks: list[Block] = [Heading(HEADING)] if sections else []
    for heading, lines in sections:
        blocks += [Heading(heading, 2), Bullets(tuple(lines))]
    return blocks


def _otherwise(plan: TravelPlan, lists: Mapping[str, Any]) -> list[Block]:
    """Give the next best way and what to do when the way is blocked on the day."""
    words = fixed_words()["blocked"]
    blocks: list[Block] = [Heading("Next best way, and if the way is blocked on the day")]
    found = dict(lists["also"])
    for heading, none in (
        ("Next best ways", "This plan names no other way: there may be none, or none was looked for."),
        ("Last place to turn back", "This plan names no last place to turn back: turn only where a turn is planned."),
        ("Points whose loss strands the machine", "This plan names none; that does not say there are none."),
    ):
        blocks.append(Heading(heading, 2))
        blocks.append(Bullets(tuple(found[heading])) if heading in found else Para(none))
    blocks += [
        Heading(words["heading"], 2),
        Bullets(tuple(words["steps"])),
        Para(f"Source: {words['source']}.", "small"),
    ]
    return blocks


def _arrival(plan: TravelPlan) -> list[Block]:
    """Give the check of the delivered machine against its sheet."""
    words, machine = fixed_words()["arrival"], plan.machine
    rows: list[tuple[str, ...]] = []
    attitude = value_text("attitude", str(machine.get("attitude", "not named")))
    for key, label, unit in (
        ("height_m", "Greatest height, measured", "m"),
        ("width_m", "Greatest width, measured", "m"),
        ("length_m", "Length over everything", "m"),
        ("wheelbase_m", "Wheelbase", "m"),
        ("gross_kg", "Mass (plate or weighbridge)", "kg"),
    ):
        value = machine.get(key)
        said = quantity(float(value), unit) if isinstance(value, (int, float)) else "not in this plan"
        rows.append((f"{label}, {attitude}", said, "", ""))
    for axle in machine.get("axles") or ():
        load = axle.get("load_kg")
        said = quantity(float(load), "kg") if load is not None else "not in this plan"
        rows.append((f"Axle load, {isolated(axle.get('name', '?'))}", said, "", ""))
    rows += [(what, sheet, "", "") for what, sheet, _ in words["rows"]]
    return [
        Heading("Arrival check of the machine"),
        Para(f"{plain(machine.get('name', 'Machine not named'))}. {words['about']}"),
        Table(("What", "Sheet", "Found", "Agrees: name, time"), tuple(rows), (6, 3.6, 3.6, 3.6), tall=True),
        Para("Height and width are measured in the attitude the machine travels in. Higher, wider or heavier than the "
             "sheet: stop, plan again.", "small"),
    ]  # fmt: skip


def _cautions(plan: TravelPlan, lists: Mapping[str, Any]) -> list[Block]:
    words, wire = fixed_words(), fixed_words()["wire"]
    blocks: list[Block] = [Heading("Before anything moves"), Bullets(tuple(plain(text) for text in lists["cautions"]))]
    if plan.doubts:
        blocks += [Heading("Doubts about the input", 2), Bullets(tuple(plain(text) for text in plan.doubts))]
    blocks += [Heading("What this plan does not decide", 2), Bullets(tuple(words["beyond"]["rows"]))]
    blocks += [Heading(wire["heading"], 2), Bullets(tuple(wire["steps"])), Para(f"Source: {wire['source']}", "small")]
    return blocks


def _record(plan: TravelPlan) -> list[Block]:
    """Give the lines that are filled in by hand: people, upkeep, emergency, validity, handing over and back."""
    words, void = fixed_words()["record"], fixed_words()["void"]
    contacts = tuple((plain(str(who).replace("_", " ")), plain(how)) for who, how in _contacts(plan).items())
    blocks: list[Block] = [
        Heading("Record of the move"),
        Para("Displayed where the work is; a copy is kept. Kept current: looked at again after every change and after "
             "anything that happened or nearly did."),
        Heading("People and communication", 2),
        Pairs(contacts) if contacts else Para("The site names no contacts: write them here before release.", "warning"),
        Forms(tuple(words["people"])),
        Heading("Way, light, signs on the day", 2),
        Forms(tuple(words["upkeep"])),
        Heading("Protective equipment and emergency", 2),
        Forms((words["ppe"], *words["emergency"])),
        Heading("Other permits and plans this one hangs on", 2),
        Forms(tuple(words["links"])),
        Heading("Validity and signatures", 2),
        Table(("What", "From", "Until", "Name, role", "Signature, date, time"),
              tuple((text, "", "", "", "") for text in
                    ("Released (not by the maker)", "Accepted by the operator", "Countersigned: spotter",
                     "Renewed for the next day", "Renewed for the next day", "Extended", "Handed over to next shift",
                     "Suspended, reason", "Withdrawn, reason", "Handed back: machine parked, way clear")),
              (5, 2, 2, 4, 4.4), tall=True),
        Heading("This plan is void when", 2),
        Bullets(tuple(void["rows"])),
        Para(f"Sources: {words['source']}; {void['source']}.", "small"),
    ]  # fmt: skip
    return blocks


def _contacts(plan: TravelPlan) -> Mapping[str, Any]:
    found = plan.site.get("contacts")
    return found if isinstance(found, Mapping) else {}


def _basis(plan: TravelPlan) -> list[Block]:
    """Give what the plan was made of: request, files, rulebooks, sources, program."""
    asked = [
        (plain(key).replace("_", " "), "none" if value in (None, [], "") else plain(_said(value)))
        for key, value in plan.request.items()
    ]
    files = tuple((plain(item["role"]), plain(item["name"]), plain(item["sha256"])) for item in plan.inputs)
    books = tuple((plain(f"rulebook, {item['layer']}"), plain(item["name"]), plain(item["sha256"]))
                  for item in plan.rulebooks)  # fmt: skip
    used = {item.source for item in plan.findings} | {item.limit.source for item in plan.findings if item.limit}
    sources = tuple(f"{plain(key)}: {plain(plan.sources[key])}" for key in sorted(used) if key in plan.sources)
    listed: tuple[Block, ...] = (Heading("Sources of the findings", 2), Bullets(sources)) if sources else ()
    program = " ".join(plain(value) for value in plan.program.values())
    return [
        Heading("What the plan was made of"),
        Pairs((*asked, *holds_rows(plan), ("made", plain(plan.created_at)), ("program", program),
               ("fingerprint", plain(plan.fingerprint)))),
        Table(("Role", "File", "SHA-256"), (*files, *books), (2.2, 3.4, 9.6)),
        *listed,
    ]  # fmt: skip


def _said(value: Any) -> str:
    if isinstance(value, Mapping):
        return ", ".join(f"{key} {_said(item)}" for key, item in value.items() if item is not None) or "none"
    if isinstance(value, (list, tuple)):
        return "; ".join(_said(item) for item in value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)
