"""Load a site: read its folder, check every file and what the files say of each other, give frozen values.

The only door of this room. All faults of all files are found before any is told.
"""

from __future__ import annotations

from pathlib import Path
from typing import TypeVar

from pydantic import ValidationError

from controller.settings.complaints import complaints
from controller.settings.documents import Document, Documents, folder_fault, read_documents
from controller.settings.faults import Fault, Refused, SiteFaults, plain
from controller.settings.fields import Conventions, Table, checked_name
from controller.settings.references import reference_faults
from controller.settings.relations import relation_faults
from controller.settings.schema_inputs import InputsFile
from controller.settings.schema_recipe import RecipeFile
from controller.settings.schema_rig import RigFile
from controller.settings.schema_site import SiteFile
from controller.settings.values import Site

__all__ = ["Fault", "SiteFaults", "demo_site_folder", "load_site"]

File = TypeVar("File", bound=Table)


def demo_site_folder() -> Path:
    """Give the folder of the demo site that is installed beside the program."""
    return Path(__file__).resolve().parents[2] / "config" / "citrus_house"


def load_site(folder: Path) -> Site:
    """Load and check one site folder. Raises SiteFaults with every fault of every file."""
    hopeless = folder_fault(folder)
    if hopeless is not None:
        raise SiteFaults([hopeless])
    documents = read_documents(folder)
    faults: list[Fault] = []
    rig = _checked(documents.rig, RigFile, faults)
    inputs = _checked(documents.inputs, InputsFile, faults)
    site = _checked(documents.site, SiteFile, faults)
    faults += documents.faults
    recipes = {name: _checked_recipe(name, document, faults) for name, document in documents.recipes.items()}
    faults += relation_faults(documents)
    faults += reference_faults(documents)
    if faults or rig is None or inputs is None or site is None:
        raise SiteFaults(_in_order(faults, documents))
    return Site(
        folder=folder,
        policy=site.checked(),
        rig=rig.checked(),
        inputs=inputs.checked(),
        recipes={name: recipe.checked(name) for name, recipe in recipes.items() if recipe is not None},
    )


def _checked(document: Document, model: type[File], faults: list[Fault]) -> File | None:
    if document.fault is not None:
        faults.append(document.fault)
    if document.table is None:
        return None
    try:
        return model.model_validate(document.table, context=Conventions(document.spoons))
    except ValidationError as error:
        faults += complaints(error, plain(document.file), model)
        return None


def _checked_recipe(name: str, document: Document, faults: list[Fault]) -> RecipeFile | None:
    try:
        checked_name(name)
    except Refused as refused:
        faults.append(Fault(plain(document.file), "", "", f"its name {refused.problem}", refused.remedy))
    return _checked(document, RecipeFile, faults)


def _in_order(faults: list[Fault], documents: Documents) -> list[Fault]:
    files = [plain(document.file) for document in documents.all()]
    return sorted(faults, key=lambda fault: files.index(fault.file) if fault.file in files else len(files))
