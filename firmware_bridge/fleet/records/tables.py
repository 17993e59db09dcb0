"""Tables of the fleet's records; instants are whole milliseconds of UTC, units are in the names.

Three groups: what sites said (written by ingest workers only), what follows from it for the work
(written by ingest too, read by the console), and what people of the service company enter.
Nothing in the first two groups is ever changed by a person.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
)

metadata = MetaData()

KEY = BigInteger().with_variant(Integer, "sqlite")
"""SQLite numbers rows by itself only where the key is an INTEGER."""


def _own(name: str) -> Column[int]:
    return Column(name, KEY, primary_key=True, autoincrement=True)


def _site(*, key: bool = False) -> Column[int]:
    return Column("site_no", ForeignKey("sites.site_no"), nullable=False, primary_key=key)


def _text(name: str, *, default: str = "") -> Column[str]:
    return Column(name, Text, nullable=False, default=default)


def _ms(name: str, *, known: bool = False) -> Column[int]:
    return Column(name, BigInteger, nullable=not known)


# --- what sites said -------------------------------------------------------------------------

sites = Table(
    "sites",
    metadata,
    _own("site_no"),
    Column("site", Text, nullable=False, unique=True),
    _text("state", default="unknown"),  # unknown (quarantined), adopted, retired
    _text("name"),
    _text("service"),
    _text("program"),
    _text("card", default="{}"),  # the card as it came (JSON)
    _text("box"),  # which box speaks; another one that claims the same site is put aside
    Column("online", Boolean),
    _ms("first_heard_ms"),
    _ms("heard_ms"),  # our own clock at the newest message
    Column("clock_ahead_ms", BigInteger),  # the site's newest instant less our clock then
    _text("region"),  # raw-water region, as the service company names it
    Column("latitude", Float),
    Column("longitude", Float),
    _text("address"),
    Column("customer_no", ForeignKey("customers.customer_no"), index=True),
    _text("newest", default="{}"),  # JSON: newest alarms of the box itself, of no line
    _ms("muted_until_ms"),  # it said far too much: what it says until then is not listened to
    Index("sites_state_name", "state", "name"),
)

held = Table(  # which numbers of a site are safe: JSON list of spans; locked by who adds to it
    "held",
    metadata,
    _site(key=True),
    _text("spans", default="[]"),
    Column("up_to", BigInteger, nullable=False, default=0),
    Column("highest", BigInteger, nullable=False, default=0),
    Column("version", BigInteger, nullable=False, default=0),
    # counts the boxes a person accepted: each numbers its rows from the beginning
    Column("era", Integer, nullable=False, default=0),
)

chunks = Table(  # rows of one line and kind as they came: zstd of JSON lines, each a list of rows
    "chunks",
    metadata,
    _own("chunk_no"),
    _site(),
    _text("line"),
    _text("kind"),  # reading, draw, estimate, alarm
    Column("first", BigInteger, nullable=False),
    Column("last", BigInteger, nullable=False),
    Column("rows", Integer, nullable=False),
    _ms("from_ms", known=True),
    _ms("to_ms", known=True),
    Column("body", LargeBinary, nullable=False),
    Column("era", Integer, nullable=False, default=0),
    Column(
        "grain_ms", Integer, nullable=False, default=0
    ),  # 1: packed by the hour, 60 000: thinned
    Index("chunks_by_time", "site_no", "line", "kind", "to_ms"),
    Index("chunks_by_number", "site_no", "last"),
)
_readings = chunks.c.kind == "reading"
Index(
    "chunks_by_age",
    chunks.c.grain_ms,
    chunks.c.to_ms,
    sqlite_where=_readings,
    postgresql_where=_readings,
)

events = Table(  # what people did at the site; the person's name is apart, so that it can be erased
    "events",
    metadata,
    _site(key=True),
    Column("era", Integer, primary_key=True, autoincrement=False, default=0),
    Column("seq", BigInteger, primary_key=True, autoincrement=False),
    _text("line"),
    _ms("at_ms", known=True),
    _text("kind"),
    _text("body"),  # JSON of the row without the name
    Column("name_no", ForeignKey("names.name_no")),
    Index("events_by_time", "site_no", "line", "at_ms"),
)

names = Table(
    "names",
    metadata,
    _own("name_no"),
    _site(),
    _text("name"),
    _ms("erased_ms"),
    UniqueConstraint("site_no", "name"),
)

aside = Table(
    "aside",
    metadata,
    _own("aside_no"),
    _ms("at_ms", known=True),
    _text("site"),
    _text("topic"),
    _text("reason"),
    Column("payload", LargeBinary, nullable=False),
    Index("aside_by_site", "site", "aside_no"),
)

marks = Table(  # small things to remember: the format of these tables, how far the series are
    "marks",
    metadata,
    Column("mark", Text, primary_key=True),
    _text("value"),
)

# --- what follows from it for the work ---------------------------------------------------------

lines = Table(  # one row a line as it stands: what lists and searches read
    "lines",
    metadata,
    _own("line_no"),
    _site(),
    _text("line"),
    _text("medium"),
    _text("size"),  # the cartridge's size as the site names it
    Column("capacity_mmol", Float),  # as rated
    _text("cartridge"),
    _ms("fitted_ms"),
    _ms("estimate_ms"),
    Column("remaining_l_p05", Float),
    Column("remaining_l_p50", Float),
    Column("remaining_l_p95", Float),
    Column("days_left_p05", Float),
    Column("days_left_p50", Float),
    Column("days_left_p95", Float),
    _ms("end_p05_ms"),
    _ms("end_p50_ms"),
    _ms("end_p95_ms"),
    Column("outlet_hardness_mmol_l_p50", Float),
    Column("raw_hardness_mmol_l_p50", Float),
    Column("raw_alkalinity_meq_l_p50", Float),
    # of the newest estimate: whether it can be relied on, the chance that the end of capacity has
    # come, what brings the end first, when the cartridge is as old as it may get
    Column("trusted", Boolean),
    Column("ended", Float),
    _text("ends_by"),
    _ms("limit_ms"),
    _text("state", default="unknown"),
    _text("newest", default="{}"),  # JSON: newest estimate and alarms, as in `now`
    _ms("reading_ms"),
    _ms("draw_ms"),
    # the newest reading and draw, and their numbers: what changes most, apart from the rest
    _text("reading"),
    Column("reading_seq", BigInteger, nullable=False, default=0),
    _text("draw"),
    Column("draw_seq", BigInteger, nullable=False, default=0),
    UniqueConstraint("site_no", "line"),
    Index("lines_by_end", "end_p05_ms"),
)

alarms = Table(  # alarms that are not normal now
    "alarms",
    metadata,
    _site(key=True),
    Column("line", Text, primary_key=True),
    Column("alarm", Text, primary_key=True),
    _text("state"),  # as ISA-18.2 names them
    _text("priority"),
    _ms("since_ms"),
    _ms("at_ms"),
    Column("seq", BigInteger, nullable=False, default=0),
    _text("body", default="{}"),
)

cartridges = Table(  # each cartridge that served: the data fleet learning rests on
    "cartridges",
    metadata,
    _own("cartridge_no"),
    _site(),
    _text("line"),
    _text("cartridge"),
    _text("medium"),
    _text("size"),
    Column("capacity_mmol", Float),
    _ms("fitted_ms", known=True),
    _ms("removed_ms"),
    Column("litres", Float),
    # what it delivered in mmol of hardness up to its end (or, where it was taken out before its
    # end, what it had delivered by then: `reached_end` is false and the truth is above)
    Column("delivered_mmol_p05", Float),
    Column("delivered_mmol_p50", Float),
    Column("delivered_mmol_p95", Float),
    # what the site believes it holds in all, as its newest estimate has it: the front that is seen
    # coming and the end that did not come yet are in it, and the rating it began with
    Column("holds_mmol_p05", Float),
    Column("holds_mmol_p50", Float),
    Column("holds_mmol_p95", Float),
    Column("reached_end", Boolean, nullable=False, default=False),
    UniqueConstraint("site_no", "line", "fitted_ms"),
)

doubts = Table(  # data of a site that contradict themselves or each other
    "doubts",
    metadata,
    _site(key=True),
    Column("line", Text, primary_key=True),
    Column("doubt", Text, primary_key=True),
    _ms("since_ms", known=True),
    _text("body", default="{}"),
)

# --- what people of the service company enter ----------------------------------------------------

customers = Table(
    "customers",
    metadata,
    _own("customer_no"),
    Column("name", Text, nullable=False, unique=True),
)

people = Table(
    "people",
    metadata,
    _own("person_no"),
    Column("login", Text, nullable=False, unique=True),
    _text("name"),
    _text("role"),  # owner, dispatcher, technician, customer
    _text("password"),  # scrypt, as the site's own people have it
    Column("customer_no", ForeignKey("customers.customer_no")),
    _text("time_zone", default="UTC"),
    _ms("made_ms", known=True),
    _ms("ended_ms"),  # may not sign in any more
    _ms("erased_ms"),  # name and login are gone too
)

tokens = Table(  # for programs: only a hash is kept
    "tokens",
    metadata,
    _own("token_no"),
    Column("person_no", ForeignKey("people.person_no"), nullable=False),
    Column("digest", Text, nullable=False, unique=True),
    _text("what_for"),
    Column("may_change", Boolean, nullable=False, default=False),
    _ms("made_ms", known=True),
    _ms("until_ms", known=True),
    _ms("revoked_ms"),
    _ms("used_ms"),
)

tags = Table(
    "tags",
    metadata,
    _site(key=True),
    Column("tag", Text, primary_key=True, index=True),
)

visits = Table(  # a stop of a round, planned or done
    "visits",
    metadata,
    _own("visit_no"),
    _site(),
    _text("line"),
    _text("day"),  # ISO date in the service company's time zone
    _text("state", default="planned"),  # planned, done, dropped
    Column("person_no", ForeignKey("people.person_no")),
    Column("place", Integer, nullable=False, default=0),  # order within the day
    _text("note"),
    Index("visits_by_day", "day"),
)

codes = Table(  # enrolment: single use, expiring
    "codes",
    metadata,
    _own("code_no"),
    Column("digest", Text, nullable=False, unique=True),
    _text("site"),
    _ms("made_ms", known=True),
    _ms("until_ms", known=True),
    _ms("used_ms"),
    _text("box"),  # digest of the secret of the box that used it, which may ask again for a while
    _text("login"),  # and the login it was given
    Column("made_by", ForeignKey("people.person_no")),
)

identities = Table(  # who may speak for a site at the broker
    "identities",
    metadata,
    _own("identity_no"),
    Column("site", Text, nullable=False, index=True),
    Column("login", Text, nullable=False, unique=True),
    _ms("made_ms", known=True),
    _ms("revoked_ms"),
)

audit = Table(  # every act of a person, never changed; each row seals the one before it
    "audit",
    metadata,
    _own("audit_no"),
    _ms("at_ms", known=True),
    Column("person_no", ForeignKey("people.person_no")),
    _text("act"),
    _text("about"),
    _text("body", default="{}"),
    _text("seal"),
)

hooks = Table(  # where the fleet tells of alarms
    "hooks",
    metadata,
    _own("hook_no"),
    _text("url"),
    Column("customer_no", ForeignKey("customers.customer_no")),
    _ms("made_ms", known=True),
    _ms("ended_ms"),
)
