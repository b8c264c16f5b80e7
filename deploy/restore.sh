#!/usr/bin/env bash
# Puts a backup in place of the database, or only tries whether it could.
#
#   deploy/restore.sh FILE            the old database stays, under another name
#   deploy/restore.sh --check FILE    into a database that is dropped again; for every night
#
# Finds the database as backup.sh does. Everything is restored into a new database first; only when that has
# worked are the names exchanged, so a broken file costs nothing. The service may run; its connections are
# cut, and it should be restarted afterwards. Phones that know more than the backup push it again. Photos, in the
# data folder or a bucket, are not touched: entries count without them, and they are checked by their names.
set -euo pipefail

check=no
if [[ ${1-} == --check ]]; then
    check=yes
    shift
fi
[[ $# -eq 1 && $1 != -* ]] || { echo "usage: deploy/restore.sh [--check] FILE" >&2; exit 2; }
file=$1
# shellcheck source=deploy/database.sh
source "$(dirname -- "${BASH_SOURCE[0]}")/database.sh"

[[ -r $file ]] || fail "cannot read $file"
pg_restore --list "$file" >/dev/null || fail "$file is not a backup"

database=$(sql "$url" -c 'select current_database()')
# Names of databases are put into statements below.
[[ $database =~ ^[A-Za-z0-9_-]+$ ]] || fail "the name of the database, $database, has unusual characters"
stamp=$(date -u +%Y%m%d_%H%M%S)
fresh=${database}_restored_$stamp
before=${database}_before_$stamp
# Nobody is connected to it, so databases can be renamed from there.
hall=$(url_of "$([[ $database == postgres ]] && echo template1 || echo postgres)")

# Roles belong to the server, not to the database, so they are not in the file.
sql "$hall" >/dev/null <<'SQL'
do $$
declare
    r text;
begin
    foreach r in array array['yj_owner', 'yj_app', 'yj_backup'] loop
        if not exists (select from pg_roles where rolname = r) then
            execute format('create role %I nologin', r);
        end if;
        if r <> 'yj_backup' and not pg_has_role(current_user, r, 'member') then
            execute format('grant %I to %I', r, current_user);
        end if;
    end loop;
end $$;
SQL

sql "$hall" -c "create database \"$fresh\" template template0 encoding 'UTF8'"
trap 'sql "$hall" -c "drop database if exists \"$fresh\"" || true' EXIT
pg_restore --exit-on-error --no-password --dbname="$(url_of "$fresh")" "$file" ||
    fail "the restore failed, see above; the database is as it was"
migrations=$(sql "$(url_of "$fresh")" -c 'select count(*) from __diesel_schema_migrations')
[[ $migrations -gt 0 ]] || fail "$file holds no yardjar; the database is as it was"
sql "$(url_of "$fresh")" -c 'analyze'

if [[ $check == yes ]]; then
    say "$file can be restored"
    exit 0
fi

# Both renames or none. Those who are connected go; those who come meanwhile are turned away.
exchange() {
    sql "$hall" -c "select pg_terminate_backend(pid) from pg_stat_activity where datname = '$database'" >/dev/null
    sql "$hall" -c "begin" \
        -c "alter database \"$database\" rename to \"$before\"" \
        -c "alter database \"$fresh\" rename to \"$database\"" \
        -c "commit" 2>"$log"
}

log=$(mktemp)
sql "$hall" -c "alter database \"$database\" allow_connections false"
for try in {1..50}; do
    if exchange; then
        break
    fi
    if [[ $try -eq 50 ]]; then
        cat "$log" >&2
        sql "$hall" -c "alter database \"$database\" allow_connections true"
        fail "could not exchange the databases; the database is as it was"
    fi
    sleep 0.2
done
rm -f "$log"
trap - EXIT
sql "$hall" -c "alter database \"$before\" allow_connections true"
say "restored. Restart yardjar and run: yardjar verify"
say "what was there before is the database $before; drop it when it is no longer needed"
