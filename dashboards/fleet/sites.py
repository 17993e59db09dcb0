"""The page Sites: search, tags, order, a page at a time; what is entered about a site."""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import urlencode

import msgspec
from markupsafe import Markup

from analytics.errors import ActRefused
from dashboards.fleet.asked import Absent, Answer, Answers, Asked, Moved, Sheet
from dashboards.fleet.box_view import BoxView, box_view
from dashboards.fleet.paging import Pages, pages_of
from dashboards.fleet.roles import may
from dashboards.fleet.said import silence
from dashboards.fleet.table import Instant, csv_of
from dashboards.fleet.within import Link, within
from dashboards.page import Given
from dashboards.signs import glass
from firmware_bridge.fleet.people.acts import LONGEST_NAME
from firmware_bridge.fleet.records import people_rows, site_rows
from firmware_bridge.fleet.records.site_rows import SORTS, STATES, SiteRow, Wanted

LONGEST_TAG, MOST_TAGS = 40, 20
LONGEST_TEXT = 200


class ListedSite(msgspec.Struct, frozen=True, kw_only=True):
    """One site of the list."""

    href: str
    number: int
    name: str
    site: str
    glass: Markup
    word: str
    region: str
    customer: str
    heard: str
    end: str
    alarms: str
    tags: tuple[Link, ...]


class SitesView(msgspec.Struct, frozen=True, kw_only=True):
    """The whole page."""

    sentence: str
    states: tuple[Link, ...]
    sorts: tuple[Link, ...]
    wanted: Wanted
    regions: tuple[str, ...]
    tags: tuple[str, ...]
    rows: tuple[ListedSite, ...]
    pages: Pages
    csv_href: str
    adopting: bool


class AboutView(msgspec.Struct, frozen=True, kw_only=True):
    """What the service company has entered about a site, to be changed."""

    row: SiteRow
    typed: dict[str, str]
    regions: tuple[str, ...]
    customers: tuple[str, ...]
    names: tuple[str, ...]
    box: BoxView


def wanted_of(asked: Asked) -> Wanted:
    """Which sites the query asks for; what cannot be is passed over."""
    query = asked.query
    state, sort = query.get("state", ""), query.get("sort", "")
    seen = STATES if asked.visit.role != "customer" else ("adopted", "retired")
    return Wanted(
        text=query.get("q", "").strip()[:LONGEST_TEXT],
        state=state if state in seen else "adopted",
        region=query.get("region", "")[:LONGEST_TEXT],
        tag=query.get("tag", "")[:LONGEST_TAG],
        sort=sort if sort in SORTS else "name",
        down=query.get("down", "") == "yes",
    )


def page(asked: Asked) -> Answer:
    """The list as asked for."""
    wanted = wanted_of(asked)
    count = site_rows.count_of(asked.connection, asked.sight, wanted)
    pages = pages_of(asked.query, "/sites", count, site_rows.PAGE)
    found = site_rows.page_of(asked.connection, asked.sight, wanted, pages.number - 1)
    key = f"sites.found.{wanted.state}.{asked.reader.language.counted(count)}"
    view = SitesView(
        sentence=asked.opening(key, n=asked.reader.count_word(count)),
        states=_states(asked, wanted),
        sorts=tuple(_sort(asked, wanted, sort) for sort in SORTS),
        wanted=wanted,
        regions=tuple(site_rows.regions(asked.connection, asked.sight)),
        tags=tuple(site_rows.all_tags(asked.connection, asked.sight)),
        rows=tuple(_listed(asked, row) for row in found),
        pages=pages,
        csv_href=f"/sites.csv?{urlencode(dict(asked.query))}",
        adopting=wanted.state == "unknown"
        and may(asked.visit.role, "/site/{site_no:int}/adopt", "POST"),
    )
    return Sheet(template="fleet/sites.html", view=view)


def table(asked: Asked) -> Given:
    """All of them as CSV."""
    head = (
        "site", "name", "state", "region", "address", "latitude", "longitude", "customer", "tags",
        "lines", "alarms", "end", "last_heard", "online",
    )  # fmt: skip
    rows = site_rows.all_of(asked.connection, asked.sight, wanted_of(asked))
    return csv_of("sites.csv", head, (_cells(row) for row in rows))


def about(asked: Asked) -> Answer:
    """What was entered about a site."""
    return about_page(asked)


def about_page(asked: Asked, code: str = "") -> Answer:
    """The same, with a code by which its box can join."""
    row = asked.here
    entered = {
        "region": row.region,
        "address": row.address,
        "latitude": "" if row.latitude is None else f"{row.latitude:.6f}",
        "longitude": "" if row.longitude is None else f"{row.longitude:.6f}",
        "customer": row.customer or "",
        "tags": ", ".join(row.tags),
    }
    view = AboutView(
        row=row,
        typed={name: asked.typed.get(name, value) for name, value in entered.items()},
        regions=tuple(site_rows.regions(asked.connection, asked.sight)),
        customers=tuple(c.name for c in people_rows.all_customers(asked.connection)),
        names=tuple(site_rows.known_names(asked.connection, row.site_no)),
        box=box_view(asked, code),
    )
    more = {"within": within(asked, "about"), "what": row.called}
    return Sheet(template="fleet/about.html", view=view, more=more)


def keep_about(asked: Asked) -> Answer:
    """Keep what was entered. Raises ActRefused with every fault."""
    row, fields = asked.here, asked.fields
    faults: list[tuple[str, str]] = []
    latitude = _degrees(fields, "latitude", 90.0, faults)
    longitude = _degrees(fields, "longitude", 180.0, faults)
    if (latitude is None) != (longitude is None) and not faults:
        faults.append(("latitude", "place"))
    texts = {name: fields.get(name, "").strip() for name in ("region", "address", "customer")}
    faults += [(n, "text") for n, t in texts.items() if len(t) > LONGEST_TEXT or not _plain(t)]
    if len(texts["customer"]) > LONGEST_NAME:
        faults.append(("customer", "customer"))
    wanted_tags = [tag.strip() for tag in fields.get("tags", "").split(",") if tag.strip()]
    if len(wanted_tags) > MOST_TAGS or any(
        len(t) > LONGEST_TAG or not _plain(t) for t in wanted_tags
    ):
        faults.append(("tags", "tags"))
    if faults:
        raise ActRefused(faults)
    customer = texts.pop("customer")
    customer_no = people_rows.customer_named(asked.connection, customer) if customer else None
    site_rows.describe(
        asked.connection,
        row.site_no,
        latitude=latitude,
        longitude=longitude,
        customer_no=customer_no,
        **texts,
    )
    site_rows.set_tags(asked.connection, row.site_no, wanted_tags)
    asked.doer.write(
        asked.connection,
        "site.described",
        f"site {row.site_no}",
        latitude=latitude,
        longitude=longitude,
        customer_no=customer_no,
        tags=wanted_tags,
        **texts,
    )
    return Moved(to=f"/site/{row.site_no}/about")


def adopt(asked: Asked) -> Answer:
    """Take a site that nobody knew, or one that was retired, among ours."""
    return _turned(asked, "adopted", ("unknown", "retired"))


def retire(asked: Asked) -> Answer:
    """A site is not looked after any more; what it said stays. Its login has ended by now."""
    return _turned(asked, "retired", ("adopted", "unknown"))


def erase_name(asked: Asked) -> Answer:
    """Erase a person's name from what was received of a site."""
    name = asked.fields.get("name", "")
    rows = site_rows.erase_name(asked.connection, asked.here.site_no, name, asked.now_ms)
    if not rows:
        raise ActRefused([("name", "no-such-name")])
    asked.doer.write(asked.connection, "site.name-erased", f"site {asked.here.site_no}", rows=rows)
    return Moved(to=f"/site/{asked.here.site_no}/about")


def _turned(asked: Asked, state: str, before: tuple[str, ...]) -> Answer:
    row = asked.here
    if row.state not in before:
        return Absent()
    site_rows.set_state(asked.connection, row.site_no, state)
    about_it = f"site {row.site_no}"
    asked.doer.write(asked.connection, f"site.{state}", about_it, before=row.state)
    back = asked.fields.get("then", "")
    return Moved(to="/sites?state=unknown" if back == "unknown" else f"/site/{row.site_no}/about")


def _states(asked: Asked, wanted: Wanted) -> tuple[Link, ...]:
    counts = site_rows.counts(asked.connection, asked.sight)
    seen = STATES if asked.visit.role != "customer" else ("adopted", "retired")
    return tuple(
        Link(
            href=f"/sites?{urlencode({'state': state})}",
            words=asked.say(f"sites.state.{state}", n=counts.get(state, 0)),
            here=state == wanted.state,
        )
        for state in seen
        if counts.get(state) or state == "adopted"
    )


def _sort(asked: Asked, wanted: Wanted, sort: str) -> Link:
    here = sort == wanted.sort
    down = "yes" if here and not wanted.down else ""
    kept = {k: v for k, v in asked.query.items() if k not in ("sort", "down", "page")}
    query = kept | {"sort": sort} | ({"down": down} if down else {})
    return Link(href=f"/sites?{urlencode(query)}", words=asked.say(f"sites.sort.{sort}"), here=here)


def _listed(asked: Asked, row: SiteRow) -> ListedSite:
    sign = _sign(asked, row)
    when = asked.when
    return ListedSite(
        href=f"/site/{row.site_no}/now",
        number=row.site_no,
        name=row.called,
        site=row.site if row.site != row.called else "",
        glass=glass(sign, 34),
        word=asked.say(f"fleet.state.{sign}"),
        region=row.region,
        customer=row.customer or "",
        heard=silence(asked, row.heard_ms)
        if sign == "silent"
        else asked.say("sites.heard", age=when.age(row.heard_ms or 0)),
        end=""
        if row.end_p50_ms is None
        else asked.say("sites.end", day=when.short(when.day(row.end_p50_ms))),
        alarms=asked.say(f"sites.alarms.{asked.reader.language.counted(row.alarms)}", n=row.alarms)
        if row.alarms
        else "",
        tags=tuple(Link(href=f"/sites?{urlencode({'tag': tag})}", words=tag) for tag in row.tags),
    )


def _sign(asked: Asked, row: SiteRow) -> str:
    """What the list can tell of a site without weighing its lines: silence, an end that is past,
    one within two weeks; health is told by its own pages."""
    if row.state != "adopted":
        return "unknown"
    if row.heard_ms is None or asked.now_ms - row.heard_ms > asked.house.silent_ms:
        return "silent"
    if row.end_p50_ms is None:
        return "unknown"
    if row.end_p50_ms <= asked.now_ms:
        return "act"
    return "due" if row.end_p50_ms - asked.now_ms < 14 * 86_400_000 else "right"


def _cells(row: SiteRow) -> list[object]:
    return [
        row.site, row.name, row.state, row.region, row.address, row.latitude, row.longitude,
        row.customer, ", ".join(row.tags), row.lines, row.alarms, Instant(row.end_p50_ms),
        Instant(row.heard_ms), row.online,
    ]  # fmt: skip


def _plain(text: str) -> bool:
    return text.isprintable()


def _degrees(
    fields: Mapping[str, str], name: str, most: float, faults: list[tuple[str, str]]
) -> float | None:
    text = fields.get(name, "").strip().replace(",", ".")
    if not text:
        return None
    try:
        found = float(text)
    except ValueError:
        found = float("nan")
    if not -most <= found <= most:
        faults.append((name, name))
        return None
    return found


ANSWERS: Answers = {
    ("GET", "/sites"): page,
    ("GET", "/sites.csv"): table,
    ("GET", "/site/{site_no:int}/about"): about,
    ("POST", "/site/{site_no:int}/about"): keep_about,
    ("POST", "/site/{site_no:int}/adopt"): adopt,
    ("POST", "/site/{site_no:int}/retire"): retire,
    ("POST", "/site/{site_no:int}/erase-name"): erase_name,
}
AGAIN = {
    "/site/{site_no:int}/about": "/site/{site_no:int}/about",
    "/site/{site_no:int}/retire": "/site/{site_no:int}/about",
    "/site/{site_no:int}/erase-name": "/site/{site_no:int}/about",
}
