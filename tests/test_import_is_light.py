"""The package stays light to import, and each heavy duty has one module; the package list is complete."""

import ast
import importlib.metadata
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "semwear"
HEAVY = ("torch", "torchvision", "matplotlib", "cv2", "skimage", "scipy", "pandas", "rapidocr", "onnxruntime", "PIL")


def imported_by(path: Path) -> set[str]:
    """Return the top-level names of all modules that a file imports, anywhere in it."""
    names = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            names.add(node.module.split(".")[0])
    return names


def test_importing_the_package_imports_nothing_heavy():
    code = f"import sys, semwear; print(sorted(set({HEAVY}) & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize(
    ("library", "owner"), [("torch", "network.py"), ("torchvision", "network.py"), ("matplotlib", "plots.py")]
)
def test_one_module_alone_imports_a_heavy_library(library, owner):
    importers = {path.relative_to(PACKAGE).as_posix() for path in PACKAGE.rglob("*.py") if library in imported_by(path)}
    assert importers == {owner}


def test_only_read_opens_picture_files():
    # The simulator passes its own pictures through JPEG in memory, and opens no files.
    openers = {"imread", "TiffFile", "memmap"}
    for path in set(PACKAGE.rglob("*.py")) - set((PACKAGE / "simulate").rglob("*.py")):
        called = {
            node.func.attr
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)
            and (node.func.attr in openers or ast.unparse(node.func) == "Image.open")
        }  # fmt: skip
        assert not called or path.name == "read.py", f"{path.relative_to(ROOT)} opens pictures by {called}"


def test_every_folder_of_the_package_is_installed():
    listed = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"]["packages"]
    found = {".".join(path.parent.relative_to(ROOT).parts) for path in PACKAGE.rglob("__init__.py")}
    assert set(listed) == found | {"semwear.models"}


def test_one_copy_of_opencv_is_installed_and_it_needs_no_display():
    # Two distributions that both bring the module cv2 overwrite each other's files.
    installed = {
        name for distribution in importlib.metadata.distributions()
        if (name := distribution.metadata["Name"].lower()).startswith("opencv")
    }  # fmt: skip
    assert installed == {"opencv-python-headless"}
