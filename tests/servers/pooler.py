"""The tests on a server once more, with pgbouncer in transaction mode before it:

    python -m tests.servers.pooler [-v] [TESTS AND OPTIONS OF PYTEST]

Without words: the command line's second pass (the marker `both_engines`), accounts, services and the store, all of it
on the server alone. A private cluster and a pooler are started for it, with so few connections to the server that
commands do get each other's.
"""

from __future__ import annotations

import os
import subprocess
import sys

from tests.servers.private import cluster, pooler

FEW = ("default_pool_size = 2", "max_client_conn = 100")
PASS = ["tests/cli", "tests/services", "tests/store", "tests/migrations"]


def main(words: list[str]) -> int:
    """Run the tests; return pytest's exit code."""
    given = words or [*PASS, "-k", "postgresql or read_only_account"]
    with cluster() as server, pooler(server, *FEW) as through:
        environment = {**os.environ, "TASKDB_TEST_POSTGRESQL": server.url(), "TASKDB_TEST_POOLER": through}
        return subprocess.run([sys.executable, "-m", "pytest", *given], env=environment).returncode


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
