"""Lists what packages are made of, as SPDX 2.3 (ISO/IEC 5962 in its JSON form).

usage: sbom.py PACKAGE.deb... > faultodds.spdx.json
       sbom.py --inside FILE LIBRARY... > faultodds.spdx.json

Of each Debian package its checksum; what is compiled into it, with the version of the Debian package it
was taken from on this machine; and what it needs at run time, as its own control file says. Of each library
that a package of a binding carries its checksum and what is compiled into it; FILE has a line
`name;version;licence` for each thing that is of no Debian package on this machine. The time is SOURCE_DATE_EPOCH's, if set.
"""
import datetime
import hashlib
import json
import os
import re
import subprocess
import sys
import time
from pathlib import Path

# Debian package -> name, licence, and the packages of ours that have it inside.
INSIDE = {
    "nlohmann-json3-dev": ("nlohmann-json", "MIT", ("libfaultodds2", "faultodds-http", "faultodds-tools")),
    "libboost-dev": ("boost", "BSL-1.0", ("libfaultodds2", "faultodds-tools")),
    "libeigen3-dev": ("Eigen", "MPL-2.0", ("libfaultodds2", "faultodds-tools")),
    "libcli11-dev": ("CLI11", "BSD-3-Clause", ("faultodds-http", "faultodds-tools")),
}
LIBRARY = "libfaultodds2"
MACHINE_OF = str(Path(__file__).resolve().parents[2] / "bindings/packages/machine_of.py")


def output(*command):
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout.strip()


def spdx_id(name):
    return "SPDXRef-" + re.sub(r"[^A-Za-z0-9.-]", "-", name)


def package(name, licence="NOASSERTION", **more):
    return {"SPDXID": spdx_id(name), "name": name, "downloadLocation": "NOASSERTION", "licenseDeclared": licence,
            "licenseConcluded": licence, "copyrightText": "NOASSERTION", "filesAnalyzed": False, **more}


def checksums(file):
    return [{"algorithm": "SHA256", "checksumValue": hashlib.sha256(file.read_bytes()).hexdigest()}]


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
        packages[name] = package(name, versionInfo=version, packageFileName=file.name, checksums=checksums(file))
        relate("SPDXRef-DOCUMENT", "DESCRIBES", spdx_id(name))
        for needed in filter(None, (part.strip() for part in depends.split(","))):
            found = re.fullmatch(r"([^\s:(]+)(?::\S+)?(?:\s*\(([^)]*)\))?(?:\s*\|.*)?", needed)
            if not found:
                raise SystemExit(f"{file}: cannot read the dependency {needed!r}")
            other, least = found.groups()
            if other not in names:
                packages.setdefault(other, package(
                    other, comment=f"Debian package; {name} asks for {least or 'any version'}"))
            relate(spdx_id(name), "DEPENDS_ON", spdx_id(other))
    inside_debian_packages(packages, relate, names)
    write(packages, relations)


def inside_debian_packages(packages, relate, names):
    for source, (title, licence, holders) in INSIDE.items():
        if not any(holder in names for holder in holders):
            continue
        version, architecture = output("dpkg-query", "-W", "-f", "${Version} ${Architecture}",
                                       source).split()
        packages[title] = package(title, licence, versionInfo=version,
                                  externalRefs=[purl(source, version, architecture)])
        for holder in holders:
            if holder in names:
                relate(spdx_id(holder), "CONTAINS", spdx_id(title))


def of_libraries(inside, files):
    packages, relations = {}, []

    def relate(one, kind, other):
        relations.append({"spdxElementId": one, "relationshipType": kind, "relatedSpdxElement": other})

    inside_debian_packages(packages, relate, {LIBRARY})  # what the library's Debian package has inside as well
    for line in Path(inside).read_text(encoding="utf-8").splitlines():
        title, version, licence = line.split(";")
        packages[title] = package(title, licence, versionInfo=version)
    within = list(packages)
    relations.clear()
    for file in files:
        machine = output(sys.executable, MACHINE_OF, "node", file)
        name = f"{output(sys.executable, MACHINE_OF, 'name', file)} for {machine}"
        packages[name] = package(name, checksums=checksums(Path(file)))
        relate("SPDXRef-DOCUMENT", "DESCRIBES", spdx_id(name))
        for title in within:
            relate(spdx_id(name), "CONTAINS", spdx_id(title))
    write(packages, relations)


def write(packages, relations):
    digest = hashlib.sha256("".join(
        p["checksums"][0]["checksumValue"] for p in packages.values() if "checksums" in p
    ).encode()).hexdigest()
    made = datetime.datetime.fromtimestamp(int(os.environ.get("SOURCE_DATE_EPOCH", time.time())), datetime.timezone.utc)
    json.dump({
        "spdxVersion": "SPDX-2.3", "dataLicense": "CC0-1.0", "SPDXID": "SPDXRef-DOCUMENT",
        "name": "faultodds", "documentNamespace": f"urn:faultodds:sbom:{digest}",
        "creationInfo": {
            "created": made.strftime("%Y-%m-%dT%H:%M:%SZ"),
            "creators": ["Tool: tests/packages/sbom.py"]},
        "packages": list(packages.values()), "relationships": relations,
    }, sys.stdout, indent=1)
    sys.stdout.write("\n")


if __name__ == "__main__":
    if len(sys.argv) < 2:
        raise SystemExit(__doc__)
    if sys.argv[1] == "--inside":
        of_libraries(sys.argv[2], sys.argv[3:])
    else:
        main(sys.argv[1:])
