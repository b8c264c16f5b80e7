#!/usr/bin/env bash
# Makes the secrets that compose.yaml hands to its containers, in deploy/secrets, once. What is there already is
# left alone: PostgreSQL keeps the password it was first given.
set -euo pipefail

folder=$(cd -- "$(dirname -- "${BASH_SOURCE[0]}")" && pwd)/secrets
# The folder is closed to others on this machine; the files in it are readable because the containers read
# them as users of their own.
mkdir -p "$folder"
chmod 700 "$folder"
if [[ -s $folder/postgres_password && -s $folder/database_url ]]; then
    echo "the secrets are there already, in $folder"
    exit 0
fi
[[ ! -e $folder/postgres_password && ! -e $folder/database_url ]] ||
    { echo "$folder holds one secret without the other; bring the other back from where it was" >&2; exit 1; }
password=$(od -An -N24 -tx1 /dev/urandom | tr -d ' \n')
printf '%s' "$password" >"$folder/postgres_password"
printf 'postgres://yardjar:%s@postgres:5432/yardjar' "$password" >"$folder/database_url"
chmod 644 "$folder"/*
echo "secrets made in $folder; a backup without them can still be restored"
