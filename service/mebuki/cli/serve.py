"""``mebuki serve``: the service, with its schedule, feeds and pages."""

from __future__ import annotations

from typing import Annotated

import typer


def serve(
    host: Annotated[
        str | None, typer.Option(help="The address to listen on; MEBUKI_SERVE_HOST if left out.")
    ] = None,
    port: Annotated[
        int | None,
        typer.Option(min=0, max=65535, help="The port; MEBUKI_SERVE_PORT if left out."),
    ] = None,
) -> None:
    """Look at the weather, plan, publish and send by itself, until stopped.

    Gardens are those of the database: mebuki trees import FILE puts them there.
    """
    from mebuki.bootstrap.server import serve as run
    from mebuki.logs import set_up_logs
    from mebuki.settings import read_settings

    settings = read_settings()
    changes = {"serve_host": host, "serve_port": port}
    settings = settings.model_copy(
        update={name: value for name, value in changes.items() if value is not None}
    )
    secrets = (
        settings.smtp_secret,
        settings.open_meteo_secret,
        settings.link_secret,
        settings.heartbeat_url,
    )
    set_up_logs(settings.log_level, settings.log_form, secrets=[each for each in secrets if each])
    run(settings, typer.echo)
