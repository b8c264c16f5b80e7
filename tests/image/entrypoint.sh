#!/bin/bash
# Runs inside the image: makes the cluster at the first start, then becomes the server. The preparation uses
# no listening server, so the line "database system is ready to accept connections" appears once and is true.
set -euo pipefail

fail() { printf 'pg-entrypoint: %s\n' "$*" >&2; exit 1; }

case ${1-} in
'' | -*) set -- postgres "$@" ;;
postgres) ;;
*) exec "$@" ;;
esac

PGDATA=${PGDATA:-/var/lib/postgresql/data}
user=${POSTGRES_USER:-postgres}
database=${POSTGRES_DB:-$user}
password=${POSTGRES_PASSWORD-}
if [[ -n ${POSTGRES_PASSWORD_FILE-} ]]; then
    password=$(<"$POSTGRES_PASSWORD_FILE")
fi

as_postgres=()
if [[ $(id -u) -eq 0 ]]; then
    as_postgres=(setpriv --reuid=postgres --regid=postgres --init-groups)
    install -d -m 700 -o postgres -g postgres "$PGDATA"
    install -d -m 2775 -o postgres -g postgres /run/postgresql
fi

if [[ ! -s $PGDATA/PG_VERSION ]]; then
    [[ -n $password ]] || fail "POSTGRES_PASSWORD is not set"
    pwfile=$(mktemp)
    printf '%s\n' "$password" >"$pwfile"
    if [[ $(id -u) -eq 0 ]]; then
        chown postgres "$pwfile"
    fi
    "${as_postgres[@]}" initdb -D "$PGDATA" -U "$user" -E UTF8 --locale=C.UTF-8 --auth-local=trust \
        --auth-host=scram-sha-256 --pwfile="$pwfile" >/dev/null
    rm -f "$pwfile"
    echo 'host all all all scram-sha-256' | "${as_postgres[@]}" tee -a "$PGDATA/pg_hba.conf" >/dev/null
    if [[ $database != postgres ]]; then
        printf 'create database "%s"\n' "${database//\"/\"\"}" |
            "${as_postgres[@]}" postgres --single -D "$PGDATA" postgres >/dev/null
    fi
fi

unset POSTGRES_PASSWORD POSTGRES_PASSWORD_FILE
shift
exec "${as_postgres[@]}" postgres -D "$PGDATA" -c "listen_addresses=*" "$@"
