# shellcheck shell=bash
# Finds the database of this machine's yardjar for backup.sh and restore.sh, which source this file.
# Afterwards `url` leads to the database, without its password, and the programs of PostgreSQL are in PATH.

say() { printf '%s: %s\n' "${0##*/}" "$*" >&2; }
fail() { say "$*"; exit 1; }

# The same URL, but to another database of the same server.
url_of() {
    local database=$1
    [[ $url =~ ^([a-z]+://[^/?]*)(/[^?]*)?(\?.*)?$ ]] || fail "cannot read DATABASE_URL; it begins with postgres://"
    printf '%s/%s%s' "${BASH_REMATCH[1]}" "$database" "${BASH_REMATCH[3]}"
}

sql() {
    local to=$1
    shift
    psql -XAtq -v ON_ERROR_STOP=1 --dbname="$to" "$@"
}

# A command line can be read by everybody on the machine, so the password goes by the environment.
take_password_out() {
    local password
    [[ $url =~ ^([a-z]+://[^:/@?]*):([^@/?]*)@(.*)$ ]] || return 0
    password=${BASH_REMATCH[2]}
    url=${BASH_REMATCH[1]}@${BASH_REMATCH[3]}
    printf -v PGPASSWORD '%b' "${password//%/\\x}"
    export PGPASSWORD
}

# Dumping needs programs that are not older than the server, so the newest on this machine.
newest_programs() {
    local bin
    bin=$(printf '%s\n' /usr/lib/postgresql/*/bin | sort -V | tail -n 1)
    if [[ -x $bin/pg_dump ]]; then
        PATH=$bin:$PATH
    fi
}

# The private PostgreSQL writes down where it listens: process, folder, start, port, socket, one a line.
private() {
    local data pid_files lines bin socket user
    if [[ $(id -u) -eq 0 ]]; then
        data=${YARDJAR_DATA:-/var/lib/yardjar}
    else
        data=${YARDJAR_DATA:-${XDG_DATA_HOME:-$HOME/.local/share}/yardjar}
    fi
    shopt -s nullglob
    pid_files=("$data"/*/postmaster.pid)
    shopt -u nullglob
    [[ ${#pid_files[@]} -eq 1 ]] ||
        fail "no private PostgreSQL runs in $data; start yardjar, or set YARDJAR_DATA or DATABASE_URL"
    mapfile -t lines <"${pid_files[0]}"
    bin=$(dirname -- "$(readlink -f "/proc/${lines[0]}/exe" || true)")
    if [[ -x $bin/pg_dump ]]; then
        PATH=$bin:$PATH
    fi
    socket=${lines[4]//%/%25}
    socket=${socket//\//%2F}
    socket=${socket// /%20}
    for user in postgres yardjar "$(stat -c %U "${lines[1]}")"; do
        url="postgres://$user@/yardjar?host=$socket&port=${lines[3]}"
        if sql "$url" -c 'select' >/dev/null 2>&1; then
            return 0
        fi
    done
    sql "$url" -c 'select' >/dev/null || fail "the private PostgreSQL in $data does not answer, see above"
}

url=${DATABASE_URL-}
if [[ -n ${DATABASE_URL_FILE-} ]]; then
    url=$(<"$DATABASE_URL_FILE")
fi
newest_programs
if [[ -n $url ]]; then
    take_password_out
else
    private
fi
command -v pg_dump >/dev/null || fail "pg_dump is missing; install the package postgresql-client"
