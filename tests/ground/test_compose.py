"""The scaled form's file: well-formed by the Compose specification, and saying only what the code reads.

Rules checked here are those of the Compose file reference (docs of the Compose specification: services, depends_on,
healthcheck, volumes, interpolation); no container engine is needed.
"""

from __future__ import annotations

import ast
import re

import pytest
import yaml

from coachhub.bootstrap import debian, layout

pytestmark = pytest.mark.unit
FILE = layout.ROOT / "docker-compose.yml"
TEXT = FILE.read_text()
CONTENT = yaml.safe_load(TEXT)
SERVICES = CONTENT["services"]
OURS = ("setup", "web", "worker", "beat")
SERVICE_KEYS = {
    "image", "build", "restart", "environment", "volumes", "command", "depends_on", "healthcheck", "ports",
    "stop_grace_period",
}  # fmt: skip
SECRET_NAMES = re.compile(r"PASSWORD|SECRET|_KEY$")
REFERENCE = re.compile(r"(?<!\$)\$\{(\w+)(:[?-])?")


def names_read_by_the_settings() -> set[str]:
    found = set()
    for node in ast.walk(ast.parse((layout.ROOT / "coachhub" / "settings.py").read_text())):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.args:
            first = node.args[0]
            if (
                isinstance(node.func.value, ast.Name)
                and node.func.value.id == "env"
                and isinstance(first, ast.Constant)
            ):
                found.add(first.value)
    return found


def test_top_level_is_what_the_specification_names():
    assert {key for key in CONTENT if not key.startswith("x-")} == {"name", "services", "volumes"}


def test_all_parts_are_there():
    assert set(SERVICES) == {*OURS, "proxy", "database", "broker", "store"}


@pytest.mark.parametrize("name", SERVICES)
def test_a_service_uses_known_keys_and_an_image_or_a_build(name):
    assert set(SERVICES[name]) <= SERVICE_KEYS
    assert "image" in SERVICES[name]


@pytest.mark.parametrize("name", SERVICES)
def test_depends_on_names_services_with_a_condition_that_can_come_true(name):
    for other, how in SERVICES[name].get("depends_on", {}).items():
        assert other in SERVICES
        if how["condition"] == "service_healthy":
            assert "healthcheck" in SERVICES[other]
        else:
            assert how["condition"] == "service_completed_successfully"
            assert SERVICES[other]["restart"] == "no"


@pytest.mark.parametrize("name", [name for name in SERVICES if name != "setup"])
def test_whatever_keeps_running_is_watched_and_restarted(name):
    assert SERVICES[name]["restart"] == "unless-stopped"
    assert SERVICES[name]["healthcheck"]["test"][0] in {"CMD", "CMD-SHELL"}


@pytest.mark.parametrize("name", SERVICES)
def test_volumes_are_declared_and_mounted_files_exist(name):
    for volume in SERVICES[name].get("volumes", ()):
        source = volume.split(":")[0]
        if source.startswith("."):
            assert (layout.ROOT / source).exists()
            assert volume.endswith(":ro")
        else:
            assert source in CONTENT["volumes"]


def test_no_volume_is_declared_in_vain():
    used = {volume.split(":")[0] for service in SERVICES.values() for volume in service.get("volumes", ())}
    assert set(CONTENT["volumes"]) <= used


@pytest.mark.parametrize("name", OURS)
def test_our_services_set_only_what_the_settings_read(name):
    assert set(SERVICES[name]["environment"]) <= names_read_by_the_settings()


@pytest.mark.parametrize("name", OURS)
def test_one_image_and_one_environment_for_all_of_ours(name):
    assert SERVICES[name]["image"] == SERVICES["web"]["image"]
    assert SERVICES[name]["environment"] == SERVICES["web"]["environment"]


def test_only_the_proxy_can_be_reached_from_outside():
    assert [name for name in SERVICES if "ports" in SERVICES[name]] == ["proxy"]


def test_no_secret_is_written_down():
    for service in SERVICES.values():
        for key, value in service.get("environment", {}).items():
            if SECRET_NAMES.search(key) and key not in {"S3_ACCESS_KEY"}:
                assert REFERENCE.match(str(value)), key
            assert not re.search(r"://[^/\s:]*:(?!\$)[^@\s]+@", str(value)), key


def test_every_reference_has_a_default_or_stops_with_a_sentence():
    found = list(REFERENCE.finditer(TEXT))
    assert found
    assert all(match[2] for match in found), [match[1] for match in found if not match[2]]


def test_addresses_name_services_of_this_file():
    urls = " ".join(str(value) for name in OURS for value in SERVICES[name]["environment"].values())
    hosts = set(re.findall(r"(?:@|http://)([a-z]+):\d+", urls)) - {"localhost"}
    assert hosts == {"database", "broker", "store"}


def test_the_image_is_built_from_files_that_exist():
    build = SERVICES["web"]["build"]
    recipe = (layout.ROOT / build["context"] / build["dockerfile"]).read_text()
    copied = [line.split()[1:-1] for line in recipe.splitlines() if line.startswith("COPY ")]
    assert copied
    assert all((layout.ROOT / source).exists() for line in copied for source in line)


def test_the_image_has_the_system_libraries_that_the_bootstrap_wants():
    recipe = (layout.ROOT / ".docker" / "Dockerfile").read_text()
    assert all(need.package in recipe for need in debian.RUN_NEEDS)


@pytest.mark.parametrize("name", OURS)
def test_commands_start_programs_of_the_image(name):
    assert SERVICES[name]["command"][0] in {"python", "gunicorn", "celery"}


def test_the_proxys_limit_lets_the_largest_clip_through():
    from django.conf import settings

    text = (layout.ROOT / ".docker" / "nginx.conf").read_text()
    uploads = text[text.index("location /uploads/") :]
    limit = int(re.search(r"client_max_body_size (\d+)m;", uploads)[1]) * 1024 * 1024
    assert limit >= settings.UPLOAD_MAX_BYTES
