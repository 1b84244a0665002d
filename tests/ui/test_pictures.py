from tests.ui.pictures import FOLDER, take_pictures, words_of


def test_the_pictures_in_the_readme_show_the_screens_as_they_are():
    taken = take_pictures()
    readme = (FOLDER.parent / "README.md").read_text(encoding="utf-8")
    assert {path.stem for path in FOLDER.glob("*.svg")} == set(taken)
    for name, svg in taken.items():
        assert f".pictures/{name}.svg" in readme
        kept = words_of((FOLDER / f"{name}.svg").read_text(encoding="utf-8"))
        assert len(kept) > 100
        assert words_of(svg) == kept, f"take them anew: python -m tests.ui.pictures ({name} differs)"
