"""What is found out about glazes and clays by testing: laboratory, tiles, shrinkage, cards."""

from __future__ import annotations

from django.urls import path

from .views import food_cards, glaze_shelf, glaze_swatch, glaze_tables, laboratory, shrinkage, tiles

laboratory_tests = [
    path("laboratory/", laboratory.lab_tests, name="lab-tests"),
    path("laboratory/new/", laboratory.lab_test_new, name="lab-test-new"),
    path("laboratory/limits/", laboratory.release_limits, name="release-limits"),
    path("laboratory/<slug:code>/", laboratory.lab_test, name="lab-test"),
    path("laboratory/<slug:code>/report.pdf", laboratory.lab_report, name="lab-report"),
    path("laboratory/<slug:code>/take-back/", laboratory.lab_test_take_back, name="lab-test-take-back"),
]

cards = [
    path("print/cards/", food_cards.food_cards, name="food-cards"),
    path("print/cards/sheet/", food_cards.food_cards_sheet, name="food-cards-sheet"),
    path("pieces/<slug:code>/card/", food_cards.piece_card, name="piece-card"),
]

tile_tests = [
    path("tiles/", tiles.tile_series_list, name="tiles"),
    path("tiles/new/", tiles.tile_series_new, name="tile-series-new"),
    path("tiles/<slug:code>/", tiles.tile_series, name="tile-series"),
    path("tiles/<slug:code>/move/", tiles.tile_series_move, name="tile-series-move"),
    path("tiles/<slug:code>/away/", tiles.tile_series_away, name="tile-series-away"),
    path("tiles/<slug:code>/<int:place>/", tiles.tile, name="test-tile"),
]

clay_tests = [
    path("clays/ruler/", shrinkage.ruler, name="ruler"),
    path("clays/lid/", shrinkage.lid_fit, name="lid-fit"),
    path("clays/<slug:code>/measured/", shrinkage.clay_measured, name="clay-measured"),
    path("clays/<slug:code>/measured/use/", shrinkage.clay_use_measured, name="clay-use-measured"),
    path("clays/<slug:code>/measured/<slug:pair_code>/", shrinkage.pair_take_back, name="pair-take-back"),
    path("clays/<slug:code>/ruler/", shrinkage.shrink_ruler, name="shrink-ruler"),
]

tables = [
    path("glazes/tables/", glaze_tables.glaze_tables, name="glaze-tables"),
    path("glazes/tables/file/", glaze_tables.glaze_table, name="glaze-csv"),
]

library = [
    path("glazes/<slug:code>/swatch/", glaze_swatch.glaze_swatch, name="glaze-swatch"),
    path("glazes/<slug:code>/swatch/off/", glaze_swatch.glaze_swatch_off, name="glaze-swatch-off"),
    path("glazes/<slug:code>/batches/<slug:batch_code>/weigh/", glaze_shelf.batch_weigh, name="batch-weigh"),
]

glaze_tests_map = [*laboratory_tests, *cards, *tile_tests, *clay_tests, *tables, *library]
