"""`make packages`: system packages are installed as root, and otherwise named so that a person can install them."""

import subprocess

import pytest

from tests import packages


@pytest.fixture
def calls(monkeypatch):
    """What would have been run, instead of running it."""
    made = []

    def run(command, **how):
        made.append(command)
        return subprocess.CompletedProcess(command, 0, "", "")

    monkeypatch.setattr(packages.subprocess, "run", run)
    monkeypatch.setattr(packages, "has_any", lambda *programs: True)
    return made


def test_root_on_a_debian_system_gets_them_installed(calls, monkeypatch):
    monkeypatch.setattr(packages.os, "geteuid", lambda: 0)
    assert packages.install(["redis-server"]) == 0
    assert calls == [
        ["apt-get", "update"],
        ["apt-get", "install", "-y", "--no-install-recommends", "redis-server"],
    ]


def test_anybody_else_is_told_exactly_what_to_install(calls, monkeypatch, capsys):
    monkeypatch.setattr(packages.os, "geteuid", lambda: 1000)
    assert packages.install(["redis-server", "chromium"]) == 1
    assert calls == []
    assert "sudo apt-get install -y --no-install-recommends redis-server chromium" in capsys.readouterr().out


def test_an_installation_that_fails_says_so(calls, monkeypatch, capsys):
    def refuse(command, **how):
        return subprocess.CompletedProcess(command, 100, "", "Unable to locate package")

    monkeypatch.setattr(packages.os, "geteuid", lambda: 0)
    monkeypatch.setattr(packages.subprocess, "run", refuse)
    assert packages.install(["redis-server"]) == 1
    assert "Unable to locate package" in capsys.readouterr().out


def test_what_is_missing_is_named_by_its_package(monkeypatch):
    monkeypatch.setattr(packages.shutil, "which", lambda program: None if "chrom" in program else f"/usr/bin/{program}")
    assert packages.missing_for_tests() == ["chromium"]
