"""Opening the site's file, whatever state it is in."""

from __future__ import annotations

import asyncio
from functools import partial
from pathlib import Path

import structlog

from analytics.errors import StoreDamaged, StoreError, StoreForeign
from firmware_bridge.config import Site
from firmware_bridge.store.database import Store
from firmware_bridge.store.rescue import rescue

log = structlog.get_logger(__name__)


async def opened(site: Site, path: Path, now_ms: int) -> Store:
    """The site's file, its folder made if need be, after a rescue where it is damaged.

    Raises StoreBusy, StoreForeign, StoreFull or StoreError where it cannot be opened.
    """
    make_folder(path.parent)
    work = partial(Store.open, path, site_id=site.setup.site_id, keeping=site.wiring.keeping)
    try:
        return await asyncio.to_thread(work)
    except StoreForeign:
        raise
    except StoreDamaged as fault:
        await rescued(site, path, now_ms, fault)
        return await asyncio.to_thread(work)


async def rescued(site: Site, path: Path, now_ms: int, fault: StoreDamaged) -> None:
    """Set the damaged file aside and save what can be read of it."""
    log.warning("store.damaged", error=str(fault), hint="It is set aside; what can be is saved.")
    found = await asyncio.to_thread(rescue, path, site.setup.site_id, now_ms)
    log.warning(
        "store.rescued",
        set_aside=str(found.set_aside),
        saved=sum(found.saved.values()),
        unread=found.unread,
        torn=list(found.torn),
    )


def make_folder(folder: Path) -> None:
    """Make the folder of the site's file; raises StoreError where that cannot be done."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as exc:
        raise StoreError(
            f"{folder}: {exc.strerror}", "Choose another place under [store] in the site file."
        ) from exc
