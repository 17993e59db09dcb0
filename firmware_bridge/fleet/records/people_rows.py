"""The people of the service company and of its customers, as they are kept."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import msgspec
from sqlalchemy import Connection, func, select

from firmware_bridge.fleet.records.struct_rows import as_struct
from firmware_bridge.fleet.records.tables import customers, people, tokens

ROLES = ("owner", "dispatcher", "technician", "customer")


class Person(msgspec.Struct, frozen=True, kw_only=True):
    """One person. `password` is what is kept of it (`fleet.people.kept`); `customer` is the name of
    whoever's sites a read-only customer sees."""

    person_no: int
    login: str
    name: str
    role: str
    password: str
    customer_no: int | None = None
    customer: str | None = None
    time_zone: str = "UTC"
    made_ms: int = 0
    ended_ms: int | None = None
    erased_ms: int | None = None

    @property
    def may_sign_in(self) -> bool:
        """Whether this person still has a way in."""
        return self.ended_ms is None and self.erased_ms is None


class Customer(msgspec.Struct, frozen=True, kw_only=True):
    """Somebody whose sites are looked after."""

    customer_no: int
    name: str


_asked = select(people, customers.c.name.label("customer")).join_from(
    people, customers, people.c.customer_no == customers.c.customer_no, isouter=True
)


def by_login(connection: Connection, login: str) -> Person | None:
    """The person of this login; logins are kept folded."""
    return _one(connection.execute(_asked.where(people.c.login == login)).mappings().first())


def by_number(connection: Connection, person_no: int) -> Person | None:
    """The person of this number."""
    found = connection.execute(_asked.where(people.c.person_no == person_no)).mappings().first()
    return _one(found)


def everybody(connection: Connection) -> list[Person]:
    """All people, those who may still sign in first, by name."""
    asked = _asked.order_by(people.c.ended_ms.isnot(None), func.lower(people.c.name))
    return [_person(row) for row in connection.execute(asked).mappings()]


def names(connection: Connection, numbers: set[int]) -> dict[int, Person]:
    """People by number."""
    found = connection.execute(_asked.where(people.c.person_no.in_(numbers))).mappings()
    return {person.person_no: person for person in map(_person, found)}


def anybody(connection: Connection) -> bool:
    """Whether there is anybody who may sign in."""
    asked = select(people.c.person_no).where(people.c.ended_ms.is_(None)).limit(1)
    return connection.execute(asked).first() is not None


def owners(connection: Connection) -> int:
    """How many owners may still sign in."""
    asked = (
        select(func.count())
        .select_from(people)
        .where(people.c.role == "owner", people.c.ended_ms.is_(None))
    )
    return connection.execute(asked).scalar_one()


def add(connection: Connection, **values: Any) -> int:
    """A new person; the number."""
    made = people.insert().values(**values).returning(people.c.person_no)
    return int(connection.execute(made).scalar_one())


def change(connection: Connection, person_no: int, **values: Any) -> None:
    """Other values in the row of a person."""
    connection.execute(people.update().where(people.c.person_no == person_no).values(**values))


def revoke_tokens(connection: Connection, person_no: int, at_ms: int) -> None:
    """End every token of a person."""
    connection.execute(
        tokens.update()
        .where(tokens.c.person_no == person_no, tokens.c.revoked_ms.is_(None))
        .values(revoked_ms=at_ms)
    )


def all_customers(connection: Connection) -> list[Customer]:
    """Every customer by name."""
    asked = select(customers).order_by(func.lower(customers.c.name))
    return [as_struct(Customer, row) for row in connection.execute(asked).mappings()]


def customer(connection: Connection, customer_no: int) -> Customer | None:
    """The customer of this number."""
    asked = select(customers).where(customers.c.customer_no == customer_no)
    found = connection.execute(asked).mappings().first()
    return None if found is None else as_struct(Customer, found)


def customer_named(connection: Connection, name: str) -> int:
    """The number of a customer; one that is new is written down."""
    asked = select(customers.c.customer_no).where(customers.c.name == name)
    number = connection.execute(asked).scalar()
    if number is None:
        made = customers.insert().values(name=name).returning(customers.c.customer_no)
        number = connection.execute(made).scalar_one()
    return int(number)


def _one(row: Mapping[Any, Any] | None) -> Person | None:
    return None if row is None else _person(row)


def _person(row: Mapping[Any, Any]) -> Person:
    return as_struct(Person, row)
