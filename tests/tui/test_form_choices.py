"""Fields that take a name within another part, what was typed in another unit, help that is seen whole."""

from __future__ import annotations

from pathlib import Path

from textual.widgets import OptionList

from specdb.catalogue import Catalogue
from specdb.errors import FieldError
from specdb.tui.dialogs.ask import WordDialog
from specdb.tui.forms.body import FormBody
from tests.tui.conftest import SMALL, AppFactory, on_screen, settled, until
from tests.tui.test_form import SHAFT, entry, form, go_to, opened, saved, typed
from tests.tui.test_form_differs import flat

CLUB = "ashby-driver"


async def test_settings_of_the_adapter_are_listed_and_chosen(make: AppFactory, demo: Path) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(pilot, "club", CLUB)
        await go_to(pilot, "adapter_setting")
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, WordDialog))
        await settled(pilot)
        with Catalogue(demo).read() as reader:
            known = [s.setting for s in reader.settings_of("vale-eight-eight-335")]
        shown = on_screen(app)
        assert len(known) > 2
        assert all(word in shown for word in known)
        await pilot.press("u", "enter")
        await settled(pilot)
        assert entry(app, "adapter_setting").text == next(w for w in known if w.startswith("u"))


async def test_measured_pieces_of_the_shaft_are_listed(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(pilot, "club", CLUB)
        entry(app, "shaft_id").put("hollin-reach-holm-60-s")
        await go_to(pilot, "shaft_sample")
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, WordDialog))
        await settled(pilot)
        words = app.screen.query_one(OptionList)
        assert [str(words.get_option_at_index(n).prompt) for n in range(words.option_count)] == ["piece 1", "piece 2"]
        await pilot.press("enter")
        await settled(pilot)
        assert entry(app, "shaft_sample").text == "piece 1"
        entry(app, "shaft_id").put("")
        await pilot.press("enter")
        await settled(pilot)
        await pilot.pause(0.6)  # the row as a whole has been looked at meanwhile
        await settled(pilot)
        assert entry(app, "shaft_sample").error == "Say first which: Shaft."
        await pilot.press("down")
        await settled(pilot)
        assert "Say first which" not in entry(app, "shaft_sample").error


async def test_a_setting_the_adapter_does_not_have_is_told_with_the_title_of_the_field(
    make: AppFactory, demo: Path
) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(pilot, "club", CLUB)
        await typed(pilot, "adapter_setting", "sideways")
        await until(pilot, lambda: bool(entry(app, "adapter_setting").error))
        assert entry(app, "adapter_setting").error.startswith(
            "vale-eight-eight-335 has no setting 'sideways'; it has: "
        )
        # an error that only the saving finds names the field as the form does
        form(app)._not_saved(
            FieldError(
                "club: adapter_setting is vale/sideways, but there is no such adapter setting",
                kind="club", field="adapter_setting", value="sideways", allowed="a setting",
            )
        )  # fmt: skip
        await pilot.pause()
        assert "Adapter setting is vale/sideways" in flat(app)
        assert "dapter_setting" not in on_screen(app)


async def test_what_was_typed_in_ounces_is_shown_in_ounces_with_the_grams_beside_it(
    make: AppFactory, demo: Path
) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(pilot, "shaft", SHAFT)
        await typed(pilot, "weight_g", "2.3 oz")
        await saved(pilot)
        await opened(pilot, "shaft", SHAFT)
        assert entry(app, "weight_g").text == "2.3 oz"
        await go_to(pilot, "weight_g")
        assert "= 65.2 g" in on_screen(app)
        assert "65.2039" not in on_screen(app)
        await typed(pilot, "weight_g", "2.3 oz")
        assert not entry(app, "weight_g").is_changed
        await typed(pilot, "notes", "x")
        await saved(pilot)
    with Catalogue(demo).read() as reader:
        # 1 oz is 28.349523125 g exactly (NIST SP 811, appendix B)
        assert reader.get("shaft", SHAFT).weight_g == 2.3 * 28.349523125


async def test_the_help_of_a_field_is_seen_whole_when_one_comes_to_it(make: AppFactory) -> None:
    app = make()
    async with app.run_test(size=SMALL) as pilot:
        await opened(pilot, "head", "orrin-vale-escarp-460-10.5-rh")
        body = form(app).query_one(FormBody)
        unseen = []
        for found in [e for e in body.entries.values() if not e.input.disabled]:
            found.input.focus()
            for _ in range(100):
                await pilot.pause(0.02)
                if found.size.height > 1 and found.region.bottom <= body.region.bottom:
                    break
            else:
                unseen.append(found.name_)
        assert not unseen
