"""Catalogues compiled as the program is built: a hook of Hatchling's."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class CompileCatalogues(BuildHookInterface):  # type: ignore[type-arg]
    """Puts the compiled catalogue of each language into the wheel; nothing is written beside the texts."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Compile them, but for an editable copy, which reads the texts as they are written."""
        if version == "editable" or self.target_name != "wheel":
            return
        import sys

        place = Path(self.root, "tempo_coach", "languages")
        sys.path.insert(0, self.root)  # the program is not installed while it is built
        try:
            from tempo_coach.languages.catalogue import COMPILED, TEXT, compile_text
        finally:
            sys.path.remove(self.root)
        out = Path(self.directory, "languages")
        for text in sorted(place.glob(f"*/{TEXT}")):
            compiled = out / text.parent.name / COMPILED
            compiled.parent.mkdir(parents=True, exist_ok=True)
            compiled.write_bytes(compile_text(text.read_text(encoding="utf-8")))
            build_data["force_include"][str(compiled)] = f"tempo_coach/languages/{text.parent.name}/{COMPILED}"

    def finalize(self, version: str, build_data: dict[str, Any], artifact_path: str) -> None:
        """Leave nothing but the wheel where it is built."""
        import shutil

        del version, build_data, artifact_path
        shutil.rmtree(Path(self.directory, "languages"), ignore_errors=True)
