"""Audits what is installed against known vulnerabilities: one that is found fails, what could not be asked is said loudly.

    python .ci/audit.py PIP_AUDIT SITE_PACKAGES

The services of advisories are beyond our reach and may be away; work must not stop for that, nor may it look audited then.
"""

from __future__ import annotations

import json
import subprocess
import sys

SERVICES = ("pypi", "osv")  # the second is asked where the first answers nothing
OURS = "labelsvc"


def asked(pip_audit: str, folder: str, service: str) -> list[dict[str, object]]:
    """Return the packages with what a service says of each; none where it cannot be reached."""
    command = [pip_audit, "--path", folder, "-s", service, "-f", "json", "--progress-spinner", "off"]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
        return [one for one in json.loads(done.stdout)["dependencies"] if one["name"] != OURS]
    except (ValueError, KeyError, subprocess.TimeoutExpired):
        return []


def main(pip_audit: str, folder: str) -> int:
    """Return 1 where a vulnerability is known, else 0."""
    packages: list[dict[str, object]] = []
    for service in SERVICES:
        packages = asked(pip_audit, folder, service) or packages
        if any("vulns" in one for one in packages):
            break
    audited = [one for one in packages if "vulns" in one]
    found = [(one["name"], one["version"], vuln) for one in audited for vuln in one["vulns"]]  # type: ignore[attr-defined]
    for name, version, vuln in found:
        fixed = ", ".join(vuln["fix_versions"]) or "no version yet"
        sys.stderr.write(f"VULNERABLE: {name} {version}: {vuln['id']}, fixed in {fixed}\n")
    if not audited:
        sys.stderr.write("!!! NOT AUDITED: no service of advisories answered. Nothing is known of the dependencies.\n")
    elif len(audited) < len(packages):
        missing = ", ".join(str(one["name"]) for one in packages if "vulns" not in one)
        sys.stderr.write(f"!!! NOT AUDITED, no service knows them: {missing}\n")
    if audited:  # of none, "0 known vulnerabilities" would read as all being well
        sys.stdout.write(f"{len(audited)} packages audited, {len(found)} known vulnerabilities\n")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
