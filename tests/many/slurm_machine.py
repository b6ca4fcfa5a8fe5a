# SPDX-License-Identifier: GPL-2.0-or-later
"""A Slurm cluster of this one machine, from Debian's packages, in a folder of its own."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import time
from pathlib import Path

PROGRAMS = ("slurmctld", "slurmd", "sbatch", "sinfo", "squeue")

CONFIGURATION = """
ClusterName=tests
SlurmctldHost={host}(127.0.0.1)
SlurmctldPort={controller}
SlurmdPort={worker}
AuthType=auth/none
CredType=cred/none
SlurmUser=root
StateSaveLocation={folder}/state
SlurmdSpoolDir={folder}/spool
SlurmctldPidFile={folder}/slurmctld.pid
SlurmdPidFile={folder}/slurmd.pid
SlurmctldLogFile={folder}/slurmctld.log
SlurmdLogFile={folder}/slurmd.log
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
SwitchType=switch/none
MpiDefault=none
ReturnToService=2
SelectType=select/cons_res
SelectTypeParameters=CR_CPU
AccountingStorageType=accounting_storage/none
JobAcctGatherType=jobacct_gather/none
NodeName={host} NodeAddr=127.0.0.1 CPUs={cores} State=UNKNOWN
PartitionName=all Nodes={host} Default=YES MaxTime=INFINITE State=UP
"""


def missing() -> str:
    """Why no cluster can be had here; empty when one can."""
    lacking = [name for name in PROGRAMS if _program(name) is None]
    if lacking:
        return f"no {', '.join(lacking)} (Debian: slurm-wlm)"
    return "" if os.getuid() == 0 else "Slurm's daemons need root"


def _program(name: str) -> str | None:
    return shutil.which(name) or shutil.which(name, path="/usr/sbin:/usr/bin")


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


class Cluster:
    """Runs until `stop`. Without authentication, on this machine's loopback alone."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        for name in ("state", "spool"):
            (folder / name).mkdir()
        (folder / "slurm.conf").write_text(
            CONFIGURATION.format(
                host=socket.gethostname().split(".")[0],
                controller=_free_port(),
                worker=_free_port(),
                folder=folder,
                cores=os.cpu_count(),
            )
        )
        self.environment = {**os.environ, "SLURM_CONF": str(folder / "slurm.conf")}
        self.daemons = [
            subprocess.Popen(
                [_program(name), "-D"],
                env=self.environment,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )
            for name in ("slurmctld", "slurmd")
        ]
        for _ in range(300):
            state = self.run("sinfo", "-h", "-o", "%T", check=False).stdout.strip()
            if state == "idle":
                return
            time.sleep(0.1)
        self.stop()
        raise RuntimeError(f"the cluster does not start: its node is {state or 'not there'}")

    def run(self, program: str, *words, check=True, **more) -> subprocess.CompletedProcess:
        environment = {**self.environment, **more}
        return subprocess.run(
            [_program(program), *map(str, words)],
            env=environment,
            capture_output=True,
            text=True,
            check=check,
        )

    def wait(self, timeout_s=120.0) -> None:
        """Until no job is left."""
        deadline = time.monotonic() + timeout_s
        while self.run("squeue", "-h").stdout.strip():
            if time.monotonic() > deadline:
                raise RuntimeError(f"jobs are left: {self.run('squeue').stdout}")
            time.sleep(0.2)

    def stop(self) -> None:
        for daemon in self.daemons:
            daemon.send_signal(signal.SIGTERM)
        for daemon in self.daemons:
            daemon.wait(30)
