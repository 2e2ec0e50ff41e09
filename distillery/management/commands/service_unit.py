"""Prints the unit by which systemd starts the server with the computer: `gaugebook service_unit --user stillhouse`."""

from __future__ import annotations

import getpass
import re
from pathlib import Path
from typing import Any, Final

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from distillery.database.owner_only import database_files
from distillery.starting.where import FOLDER_SETTING, own_command

NAME: Final = re.compile(r"[a-z_][a-z0-9_-]{0,31}")
# Every other setting stands in the file .env, which a unit that anybody may read does not repeat.
UNIT: Final = """\
# To be saved as /etc/systemd/system/gaugebook.service; then: systemctl enable --now gaugebook
[Unit]
Description=Gaugebook, the books of the distillery
After=network-online.target{after}
Wants=network-online.target

[Service]
User={user}
{environment}ExecStart={command}
Restart=on-failure
RestartSec=5
# Ctrl-C's signal: what is being answered is answered.
KillSignal=SIGINT
TimeoutStopSec=60
UMask=0077
NoNewPrivileges=true
PrivateTmp=true
ProtectSystem=strict
ReadWritePaths={writes}

[Install]
WantedBy=multi-user.target
"""


class Command(BaseCommand):
    help = "Prints a systemd unit that serves this site, with the paths of this computer."
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--user", default=getpass.getuser(), help="who the server runs as (you)")
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on (this computer only)")
        parser.add_argument("--port", type=int, default=8000, help="port to listen on (8000)")

    def handle(self, *args: Any, **options: Any) -> None:
        if not NAME.fullmatch(options["user"]):
            raise CommandError(f"'{options['user']}' is no name of a user of this computer.")
        if not re.fullmatch(r"[0-9A-Za-z.:-]+", options["host"]) or not 0 < options["port"] < 65536:
            raise CommandError("Give --host an address and --port a number from 1 to 65535.")
        default = settings.DATABASES["default"]
        on_sqlite = default["ENGINE"].endswith("sqlite3")
        folders = [Path(settings.SITE_DIR)]
        folders += [file.absolute().parent for file in database_files(str(default["NAME"]))[:1] if on_sqlite]
        for named in (settings.COPIES_FOLDER, settings.COPIES_SECOND_FOLDER):
            folders += [Path(named).absolute()] if named else []
        folders += [Path(settings.SEALS_FILE).absolute().parent] if settings.SEALS_FILE else []
        writes = [_quoted(str(folder)) for folder in dict.fromkeys(folders)]
        given = {FOLDER_SETTING: str(settings.SITE_DIR)}
        if on_sqlite:
            given["DATABASE_URL"] = f"sqlite:///{Path(default['NAME']).absolute()}"
        command = own_command("serve", "--host", options["host"], "--port", str(options["port"]))
        self.stdout.write(
            UNIT.format(
                user=options["user"],
                after="" if on_sqlite else " postgresql.service",
                environment="".join(f"Environment={_quoted(f'{name}={value}')}\n" for name, value in given.items()),
                command=" ".join(_quoted(word) for word in command),
                writes=" ".join(writes),
            ),
            ending="",
        )


def _quoted(text: str) -> str:
    """One word of a unit (systemd.syntax, Quoting): a per cent sign doubled, in quotes where it has a gap."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%")
    return f'"{escaped}"' if re.search(r"\s", escaped) else escaped
