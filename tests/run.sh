#!/bin/sh
# All checks of this checkout, on SQLite and on a private PostgreSQL, as CI runs them: sh tests/run.sh
# All but the slow ones, on SQLite, in some three minutes: sh tests/run.sh quick
# Some tests only: sh tests/run.sh tests/store -k upgrade   (arguments go to pytest)
set -eu
cd "$(dirname "$0")/.."

python=${PYTHON:-python3}
"$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' || {
    echo "taskdb needs Python 3.11 or newer; name one with PYTHON=…" >&2
    exit 1
}

# The environment is made once, and filled again only where pyproject.toml has changed.
[ -x .venv/bin/python ] || "$python" -m venv .venv
stamp=$(cksum < pyproject.toml)
if [ "$(cat .venv/taskdb-stamp 2> /dev/null || true)" != "$stamp" ]; then
    .venv/bin/python -m pip install --quiet --disable-pip-version-check -e '.[test]'
    echo "$stamp" > .venv/taskdb-stamp
fi
PATH="$PWD/.venv/bin:$PATH"
export PATH
# Hundreds of tests start a command: each would compile all of taskdb anew where the environment forbids to keep it.
unset PYTHONDONTWRITEBYTECODE

# The newest PostgreSQL server installed, whether or not its programs are on the path.
server=$(ls -d /usr/lib/postgresql/*/bin 2> /dev/null | sort -t / -k 5 -n | tail -n 1)
if [ -z "$server" ] && command -v initdb > /dev/null; then
    server=$(dirname "$(command -v initdb)")
fi

# Thousands of small stores are brought to the disk: in memory that takes no time, where there is plenty of it.
memory=
if [ -z "${TMPDIR:-}" ] && [ "$(df -Pk /dev/shm 2> /dev/null | awk 'NR == 2 { print $4 }')" -gt 8000000 ] 2> /dev/null; then
    memory=$(mktemp -d /dev/shm/taskdb-tests.XXXXXX)
    chmod 755 "$memory"
    export TMPDIR="$memory"
fi

cluster= typing= said=$(mktemp)
stop() {
    [ -z "$typing" ] || kill "$typing" 2> /dev/null || true
    rm -f "$said"
    [ -z "$cluster" ] || as_server "$server/pg_ctl" -D "$cluster/data" -m immediate stop > /dev/null 2>&1 || true
    [ -z "$cluster" ] || rm -rf "$cluster"
    [ -z "$memory" ] || rm -rf "$memory"
    cluster= memory=
}
as_server() {
    # initdb refuses root.
    if [ "$(id -u)" = 0 ]; then (cd / && runuser -u postgres -- "$@"); else "$@"; fi
}
trap stop EXIT
trap 'exit 130' INT
trap 'exit 143' TERM HUP

if [ "${1:-}" = quick ]; then
    unset TASKDB_TEST_POSTGRESQL
elif [ -n "${TASKDB_TEST_POSTGRESQL:-}" ]; then
    echo "PostgreSQL: the server of TASKDB_TEST_POSTGRESQL"
elif [ -x "$server/initdb" ]; then
    cluster=$(mktemp -d)
    chmod 755 "$cluster"
    [ "$(id -u)" != 0 ] || chown postgres "$cluster"
    as_server "$server/initdb" -D "$cluster/data" -U postgres -A trust -E UTF8 --locale=C --no-sync > /dev/null
    # Everybody is let in, but for the members of a role that the tests of passwords make.
    { echo "local all +taskdb_password scram-sha-256" && cat "$cluster/data/pg_hba.conf"; } > "$cluster/hba.conf"
    chmod 644 "$cluster/hba.conf"
    # Nothing of it has to outlive a fall of the machine.
    brief="-c fsync=off -c full_page_writes=off -c synchronous_commit=off -c wal_level=minimal -c max_wal_senders=0"
    brief="$brief -c jit=off -c max_connections=50"
    as_server "$server/pg_ctl" -D "$cluster/data" -l "$cluster/log" -w \
        -o "-k $cluster -c listen_addresses='' $brief -c hba_file=$cluster/hba.conf" start > /dev/null
    TASKDB_TEST_POSTGRESQL="postgresql+psycopg://postgres@/postgres?host=$cluster"
    export TASKDB_TEST_POSTGRESQL
    echo "PostgreSQL: $("$server/postgres" --version), in a folder of its own"
else
    echo "PostgreSQL: no server installed; testing on SQLite alone" >&2
fi

# mypy takes as long as the others together: it runs beside them, and speaks when they have spoken.
look() {
    mypy > "$said" 2>&1 &
    typing=$!
    ruff check .
    ruff format --check .
    lint-imports
    vulture
    status=0
    wait "$typing" || status=$?
    typing=
    cat "$said"
    [ "$status" = 0 ] || exit "$status"
}
# No && after look: a failure inside a function would be passed over.
case ${1:-} in
'')
    look
    python -m pytest -n 2 --dist worksteal
    ;;
quick)
    look
    python -m pytest -n 2 --dist worksteal -m "not slow"
    ;;
*) python -m pytest "$@" ;;
esac
