#!/usr/bin/env bash
# Writes the whole database into one file, while the service runs, and reads the file once before it says so.
#
#   deploy/backup.sh FOLDER      prints the name of the file
#
# Finds the private PostgreSQL by YARDJAR_DATA, or uses DATABASE_URL or DATABASE_URL_FILE. With KEEP_DAYS=35,
# older backups in FOLDER are deleted after a new one has succeeded. The file holds everything about
# everybody: keep it encrypted and on another machine. token.keys in the data folder is not in it and belongs
# in another safe place; without it the phones have to be enrolled again. erased.ndjson is copied beside the
# backup: what was erased must stay so after a restore, so put the newest one into the data folder then.
# Photos are not in it: copy the folder photos besides, or have their bucket backed up by its own means.
set -euo pipefail

[[ $# -eq 1 && $1 != -* ]] || { echo "usage: deploy/backup.sh FOLDER" >&2; exit 2; }
folder=${1%/}
# shellcheck source=deploy/database.sh
source "$(dirname -- "${BASH_SOURCE[0]}")/database.sh"
[[ ${KEEP_DAYS-} =~ ^[0-9]*$ ]] || fail "KEEP_DAYS=$KEEP_DAYS is not a number of days"

umask 077
mkdir -p -- "$folder"

# Row-level security would hide rows from an ordinary user; yj_backup exists to see them all and change none.
role=$(sql "$url" -c "select case
    when (select rolsuper or rolbypassrls from pg_roles where rolname = current_user) then ''
    when pg_has_role(current_user, 'yj_backup', 'member') then 'yj_backup'
    else 'none' end")
[[ $role != none ]] || fail "the user of DATABASE_URL may not see all rows; grant it yj_backup, or use another"

file=$folder/yardjar-$(date -u +%Y-%m-%dT%H-%M-%SZ).dump
trap 'rm -f -- "$file.part"' EXIT
pg_dump --format=custom --no-password ${role:+"--role=$role"} --dbname="$url" --file="$file.part" ||
    fail "pg_dump failed, see above; nothing was written"
# Reads the file from end to end, as a restore would.
pg_restore --file=/dev/null "$file.part" || fail "the file cannot be read back, see above; nothing was kept"
sync -- "$file.part"
mv -- "$file.part" "$file"
sync -- "$folder"
if [[ -n ${YARDJAR_DATA-} && -r $YARDJAR_DATA/erased.ndjson ]]; then
    # What was erased once is never taken off the list, whatever data folder this is.
    touch -- "$folder/erased.ndjson"
    sort -u -- "$YARDJAR_DATA/erased.ndjson" "$folder/erased.ndjson" >"$folder/erased.ndjson.part"
    mv -- "$folder/erased.ndjson.part" "$folder/erased.ndjson"
fi
printf '%s\n' "$file"

if [[ -n ${KEEP_DAYS-} ]]; then
    find "$folder" -maxdepth 1 -type f -name 'yardjar-*.dump' -mtime "+$KEEP_DAYS" -delete
fi
