"""The pages behind the links in mails, for the one process that shows pages."""

from __future__ import annotations

from collections.abc import Sequence

from starlette.routing import Route

from mebuki.bootstrap.linking import link_signer
from mebuki.clock import Clock
from mebuki.settings import Settings
from mebuki.storage.database import Database
from mebuki.web.links_desk import LinkDesk
from mebuki.web.links_routes import link_routes


def link_pages(settings: Settings, database: Database, clock: Clock) -> Sequence[Route]:
    """Return the routes of the pages; raises what `link_signer` does."""
    return link_routes(LinkDesk(database, link_signer(settings, database, clock), clock))
