# Sourced by examples/run and tests/run: need_packages NAME... installs the Debian packages that are
# missing, as root. It does nothing when all are there.

need_packages() {
  if ! command -v dpkg-query >/dev/null; then
    echo "Not a Debian system: these packages, or what stands for them, must be there: $*" >&2
    return 0
  fi
  local name missing=()
  for name in "$@"; do
    if [[ "$(dpkg-query -W -f '${db:Status-Status}' "$name" 2>/dev/null)" != installed ]]; then
      missing+=("$name")
    fi
  done
  ((${#missing[@]})) || return 0
  if [[ "$(id -u)" != 0 ]]; then
    echo "Missing packages; run as root, or have them installed: ${missing[*]}" >&2
    return 1
  fi
  echo "Installing ${missing[*]}"
  export DEBIAN_FRONTEND=noninteractive
  apt-get update -qq
  apt-get install -qq -y --no-install-recommends -o Dpkg::Use-Pty=0 "${missing[@]}" >/dev/null
}
