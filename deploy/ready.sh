#!/bin/bash
# Answers by its exit code whether the service on this machine can do its work. Written without curl, since a
# small image has none.
set -euo pipefail

port=${YARDJAR_LISTEN:-127.0.0.1:8470}
port=${port##*:}

# The whole exchange has four seconds; a service that hangs is not ready.
# shellcheck disable=SC2016  # $1 is meant for the inner shell
exec timeout 4 bash -c '
    exec 3<>"/dev/tcp/127.0.0.1/$1" || exit 1
    printf "GET /health/ready HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n" >&3
    IFS= read -r status <&3
    [[ $status == "HTTP/1.1 200 "* ]]
' ready "$port" 2>/dev/null
