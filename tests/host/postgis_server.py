# SPDX-License-Identifier: GPL-2.0-or-later
"""A PostgreSQL server with PostGIS of the tests' own, from Debian's packages."""

from __future__ import annotations

import os
import pwd
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from contextlib import suppress
from pathlib import Path

import psycopg2


def programs() -> Path | None:
    """The folder of the server's programs; None where there are none with PostGIS."""
    for folder in sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True):
        version = folder.parent.name
        extension = Path(f"/usr/share/postgresql/{version}/extension/postgis.control")
        if (folder / "initdb").exists() and extension.exists():
            return folder
    return None


class Server:
    """Runs in a folder of its own, on a socket and a free port of this machine. As root it runs as
    the packages' user, since the server refuses to run as root."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="postgis."))
        self.bin = programs()
        self.user = {}
        if os.getuid() == 0:
            own = pwd.getpwnam("postgres")
            os.chown(self.folder, own.pw_uid, own.pw_gid)
            self.user = {"user": own.pw_uid, "group": own.pw_gid, "extra_groups": []}
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self._run("initdb", "-D", self.data, "-U", "keeper", "-A", "trust", "-E", "UTF8", "-N")
        self.start()

    @property
    def data(self) -> str:
        return str(self.folder / "data")

    @property
    def connection(self) -> str:
        return f"host='{self.folder}' port={self.port} user=keeper dbname=postgres"

    def _run(self, program: str, *arguments: str) -> None:
        subprocess.run(
            [str(self.bin / program), *arguments],
            check=True,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            cwd="/",
            **self.user,
        )

    def start(self) -> None:
        self.process = subprocess.Popen(
            [
                str(self.bin / "postgres"),
                *("-D", self.data, "-k", str(self.folder), "-p", str(self.port)),
                *("-c", "listen_addresses="),
            ],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            cwd="/",
            start_new_session=True,
            **self.user,
        )
        for _ in range(300):
            try:
                psycopg2.connect(self.connection).close()
                return
            except psycopg2.OperationalError:
                time.sleep(0.1)
        raise RuntimeError("the server does not start")

    def power_cut(self) -> None:
        """All processes of the server end at once, and it starts again from what is on the disk."""
        parent = self.process.pid
        children = [
            int(text) for text in Path(f"/proc/{parent}/task/{parent}/children").read_text().split()
        ]
        for process in (parent, *children):
            with suppress(ProcessLookupError):  # one that has just ended by itself
                os.kill(process, signal.SIGKILL)
        self.process.wait()
        (Path(self.data) / "postmaster.pid").unlink(missing_ok=True)
        self.start()

    def stop(self) -> None:
        self.process.send_signal(signal.SIGINT)
        self.process.wait(30)
        shutil.rmtree(self.folder, ignore_errors=True)

    def sql(self, *statements: str) -> list:
        """Statements in a connection of their own; the rows of the last one."""
        link = psycopg2.connect(self.connection)
        link.autocommit = True
        try:
            with link.cursor() as cursor:
                for statement in statements:
                    cursor.execute(statement)
                return cursor.fetchall() if cursor.description else []
        finally:
            link.close()
