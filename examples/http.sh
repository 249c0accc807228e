#!/bin/sh
# http.sh URL CASE: asks a running adapter, such as http://127.0.0.1:8080, to assess a case document
# against the circuit that it has stored as refuse_truck. Prints the assessment.
set -eu
printf '{"circuit": "refuse_truck", "case": %s}' "$(cat "$2")" |
  curl --silent --show-error --fail-with-body --header 'Content-Type: application/json' \
    --data-binary @- "$1/v1/assess"
