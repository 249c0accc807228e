"""Lists what the Debian packages are made of, as SPDX 2.3 (ISO/IEC 5962 in its JSON form).

usage: sbom.py PACKAGE.deb... > faultodds.spdx.json

Of each package its checksum; what is compiled into it, with the version of the Debian package it
was taken from on this machine; and what it needs at run time, as its own control file says.
"""
import datetime
import hashlib
import json
import re
import subprocess
import sys
from pathlib import Path

# Debian package -> name, licence, and the packages of ours that have it inside.
INSIDE = {
    "nlohmann-json3-dev": ("nlohmann-json", "MIT", ("libfaultodds2", "faultodds-http", "faultodds-tools")),
    "libboost-dev": ("boost", "BSL-1.0", ("libfaultodds2", "faultodds-tools")),
    "libeigen3-dev": ("Eigen", "MPL-2.0", ("libfaultodds2", "faultodds-tools")),
    "libcli11-dev": ("CLI11", "BSD-3-Clause", ("faultodds-http", "faultodds-tools")),
}


def output(*command):
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout.strip()


def spdx_id(name):
    return "SPDXRef-" + re.sub(r"[^A-Za-z0-9.-]", "-", name)


def purl(name, version, architecture):
    return {"referenceCategory": "PACKAGE-MANAGER", "referenceType": "purl",
            "referenceLocator": f"pkg:deb/debian/{name}@{version}?arch={architecture}"}


def main(files):
    packages, relations = {}, []

    def relate(one, kind, other):
        relations.append({"spdxElementId": one, "relationshipType": kind, "relatedSpdxElement": other})

    ours = [(Path(file), *(output("dpkg-deb", "-f", file, field)
                           for field in ("Package", "Version", "Architecture", "Depends")))
            for file in files]
    names = {name for _, name, *_ in ours}
    for file, name, version, architecture, depends in ours:
        packages[name] = {
            "SPDXID": spdx_id(name), "name": name, "versionInfo": version,
            "packageFileName": file.name, "downloadLocation": "NOASSERTION",
            "checksums": [{"algorithm": "SHA256",
                           "checksumValue": hashlib.sha256(file.read_bytes()).hexdigest()}],
            "licenseDeclared": "NOASSERTION", "licenseConcluded": "NOASSERTION",
            "copyrightText": "NOASSERTION", "filesAnalyzed": False,
        }
        relate("SPDXRef-DOCUMENT", "DESCRIBES", spdx_id(name))
        for needed in filter(None, (part.strip() for part in depends.split(","))):
            found = re.fullmatch(r"([^\s:(]+)(?::\S+)?(?:\s*\(([^)]*)\))?(?:\s*\|.*)?", needed)
            if not found:
                raise SystemExit(f"{file}: cannot read the dependency {needed!r}")
            other, least = found.groups()
            if other not in names:
                packages.setdefault(other, {
                    "SPDXID": spdx_id(other), "name": other, "downloadLocation": "NOASSERTION",
                    "licenseDeclared": "NOASSERTION", "licenseConcluded": "NOASSERTION",
                    "copyrightText": "NOASSERTION", "filesAnalyzed": False,
                    "comment": f"Debian package; {name} asks for {least or 'any version'}",
                })
            relate(spdx_id(name), "DEPENDS_ON", spdx_id(other))
    for source, (title, licence, holders) in INSIDE.items():
        version, architecture = output("dpkg-query", "-W", "-f", "${Version} ${Architecture}",
                                       source).split()
        packages[title] = {
            "SPDXID": spdx_id(title), "name": title, "versionInfo": version,
            "downloadLocation": "NOASSERTION", "licenseDeclared": licence,
            "licenseConcluded": licence, "copyrightText": "NOASSERTION", "filesAnalyzed": False,
            "externalRefs": [purl(source, version, architecture)],
        }
        for holder in holders:
            if holder in names:
                relate(spdx_id(holder), "CONTAINS", spdx_id(title))
    digest = hashlib.sha256("".join(
        p["checksums"][0]["checksumValue"] for p in packages.values() if "checksums" in p
    ).encode()).hexdigest()
    json.dump({
        "spdxVersion": "SPDX-2.3", "dataLicense": "CC0-1.0", "SPDXID": "SPDXRef-DOCUMENT",
        "name": "faultodds", "documentNamespace": f"urn:faultodds:sbom:{digest}",
        "creationInfo": {
            "created": datetime.datetime.now(datetime.timezone.utc).strftime("%Y-%m-%dT%H:%M:%SZ"),
            "creators": ["Tool: tests/packages/sbom.py"]},
        "packages": list(packages.values()), "relationships": relations,
    }, sys.stdout, indent=1)
    sys.stdout.write("\n")


if __name__ == "__main__":
    if len(sys.argv) < 2:
        raise SystemExit(__doc__)
    main(sys.argv[1:])
