"""The tables a folder holds and the columns of each, in their order."""


def _gauge(prefix: str) -> list[str]:
    return [f"{prefix}_dip_mm", f"{prefix}_celsius", f"{prefix}_hydrometer_percent"]


PLANT: dict[str, list[str]] = {
    "vessels": ["vessel", "name", "kind", "stage", "capacity_litres"],
    "calibration": ["vessel", "dip_mm", "litres"],
    "empty_casks": ["number", "kind", "fill", "litres", "warehouse"],
    "maturing_casks": [
        *(
            "number",
            "kind",
            "fill",
            "nominal_litres",
            "warehouse",
            "filled_at",
            "tare_kg",
            "gross_kg",
            "percent",
        ),
    ],
    "instruments": [
        *("instrument", "measures", "unit", "resolution", "standard_uncertainty", "reference_celsius"),
    ],
    "recipes": ["recipe", "botanical", "grams_per_lpa"],
}

LOG: dict[str, list[str]] = {
    "opening_stock": ["vessel", "at", *_gauge("gauge")],
    "opening_bottled_stock": ["product", "bottle_centilitres", "label_percent", "bottles"],
    "intake": [
        *("lot", "kind", "received_at", "kilograms", "moisture_percent", "nitrogen_percent"),
        *("predicted_spirit_yield_lpa_per_tonne", "silo"),
    ],
    "mashes": [
        *(
            "mash",
            "started_at",
            "ended_at",
            "malt_lot",
            "grist_kg",
            "husk_percent",
            "grits_percent",
            "flour_percent",
        ),
        *(
            "water1_litres",
            "water1_celsius",
            "water2_litres",
            "water2_celsius",
            "water3_litres",
            "water3_celsius",
        ),
        *("wort_litres", "wort_gravity", "wort_celsius", "washback"),
    ],
    "fermentations": [
        *("fermentation", "mash", "washback", "yeast_lot", "yeast_kg", "pitched_at", "original_gravity"),
        *("ended_at", "final_gravity", "final_dip_mm", "final_celsius"),
    ],
    "wash_runs": [
        *("run", "still", "fermentation", "washback", "charged_at", "washback_before_dip_mm"),
        *("washback_before_celsius", "washback_after_dip_mm", "ended_at", "receiver"),
        *_gauge("receiver_before"),
        *_gauge("receiver_after"),
        *("pot_ale_litres", "pot_ale_percent"),
    ],
    "spirit_runs": [
        *("run", "still", "charged_at"),
        *_gauge("low_wines_before"),
        *_gauge("feints_before"),
        *_gauge("low_wines_after"),
        *_gauge("feints_after"),
        *("spirit_on_at", "spirit_off_at", "cut_on_percent", "cut_off_percent", "ended_at"),
        *("spirit_receiver", "feints_receiver"),
        *_gauge("spirit_before"),
        *_gauge("feints_receiver_before"),
        *_gauge("spirit_after"),
        *_gauge("feints_receiver_after"),
        *("spent_lees_litres", "spent_lees_percent"),
    ],
    "third_still_runs": [
        *("run", "kind", "charged_at", "source"),
        *_gauge("source_before"),
        *_gauge("source_after"),
        *_gauge("product_before"),
        *_gauge("heads_tails_before"),
        *("ended_at", "product_vessel"),
        *_gauge("product_after"),
        *_gauge("heads_tails_after"),
        *("charcoal_kg", "recipe", "baskets"),
    ],
    "transfers": [
        *("transfer", "at", "from_vessel", "to_vessel"),
        *_gauge("from_before"),
        *_gauge("to_before"),
        *_gauge("from_after"),
        *_gauge("to_after"),
    ],
    "reductions": [
        *("reduction", "at", "vessel", "target_percent"),
        *_gauge("before"),
        "water_kg",
        *_gauge("after"),
    ],
    "cask_fills": [
        *("fill", "at", "vat", "cask", "cask_kind", "fill_number", "nominal_litres", "tare_kg", "gross_kg"),
        *("celsius", "hydrometer_percent", "warehouse"),
        *_gauge("vat_before"),
        *_gauge("vat_after"),
    ],
    "regauges": ["regauge", "at", "cask", "tare_kg", "gross_kg", "celsius", "hydrometer_percent"],
    "bottlings": [
        *("bottling", "at", "vat", "product", "lot_code", "bottle_centilitres", "label_percent", "bottles"),
        *_gauge("vat_before"),
        *_gauge("vat_after"),
        *("mean_fill_millilitres", "mean_strength_percent"),
    ],
    "removals": ["removal", "at", "product", "bottle_centilitres", "label_percent", "bottles", "kind"],
    "readings": ["record", "at", "quantity", "value"],
    "stock_take": ["at", "vessel", *_gauge("gauge")],
}
