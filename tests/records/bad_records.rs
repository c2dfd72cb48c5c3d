//! Every file in `data/bad` is refused with a message that names the place, what was found and how to mend it.

use risefit::records::{Datasheet, Grade, Mold, Recipe, RiseLog, Trace, read_rise_logs, read_trials};
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

fn bad(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data/bad").join(name)
}

/// Reads a file by the reader that its name calls for and returns the message.
fn message(name: &str) -> String {
    let file = bad(name);
    let refused = match name.split('_').next().unwrap_or_default() {
        "ledger" => read_trials(&file).err(),
        "trace" => Trace::read(&file).err(),
        "mold" => Mold::load(&file).err(),
        "grade" => Grade::load(&file).err(),
        "datasheet" => Datasheet::load(&file).err(),
        "recipe" => Recipe::load(&file).err(),
        _ => RiseLog::read(&file).err(),
    };
    refused.unwrap_or_else(|| panic!("{name} was accepted")).to_string()
}

/// File, and what its message must hold: place, found, mend.
const CASES: &[(&str, &[&str])] = &[
    ("empty.csv", &["is empty", "`# key = value` lines"]),
    ("no_mass.csv", &["missing `mass_g`", "mass_kg, mass_oz", "found only: cup_diameter_mm"]),
    ("no_mix_temp.csv", &["missing `mix_temp_C`", "at the end of mixing"]),
    ("key_misspelled.csv", &["line 5", "unknown `creme_time_s`", "did you mean `cream_time_s`"]),
    ("key_no_unit.csv", &["line 1", "`mass` has no unit", "write one of: mass_g"]),
    ("key_twice.csv", &["line 5", "mass_g and mass_kg", "keep one"]),
    ("column_no_unit.csv", &["line 5", "`height` has no unit", "height_mm, height_cm"]),
    ("column_wrong_unit.csv", &["line 5", "`height_kPa` has no unit that fits", "height_mm"]),
    ("column_unknown.csv", &["line 5", "unknown `heigth_mm`", "did you mean `height_mm`"]),
    ("column_twice.csv", &["line 5", "height_mm and height_cm", "keep one"]),
    ("column_no_head.csv", &["line 5", "no head over column 3", "name the column or delete it"]),
    ("no_time.csv", &["line 5", "missing a column `time_s`", "found only: height_mm, temp_C"]),
    ("height_and_volume.csv", &["line 5", "either heights or volumes", "keep the one that was measured"]),
    ("head_without_rows.csv", &["is empty", "rows under the column heads"]),
    ("time_backwards.csv", &["line 9", "`time_s`", "4.5 after 5 in line 7", "sort the rows"]),
    ("time_blank.csv", &["line 8", "`time_s`", "a time in every row", "delete the row"]),
    ("time_negative.csv", &["line 6", "`time_s`", "`-2`", "0 or more"]),
    ("text_for_number.csv", &["line 8", "`height_mm`", "`high`", "a number", "leave the cell blank"]),
    ("not_a_number.csv", &["line 8", "`height_mm`", "`NaN`", "a finite number", "leave the cell blank"]),
    ("infinite.csv", &["line 8", "`height_mm`", "`inf`", "a finite number", "leave the cell blank"]),
    ("decimal_comma.csv", &["line 6", "`height_mm`", "`21,3`", "decimal point"]),
    ("unit_in_cell.csv", &["line 8", "`height_mm`", "`21.5 mm`", "unit belongs into the name"]),
    ("row_too_long.csv", &["line 6", "4 cells, the first extra `23.1`", "3 cells", "decimals with a point"]),
    ("row_too_short.csv", &["line 8", "`temp_C`", "2 cells", "3 cells", "leave a blank between commas"]),
    ("semicolons.csv", &["line 5", "time_s;height_mm", "parted by commas", "save the table with commas"]),
    ("height_negative.csv", &["line 8", "`height_mm`", "`-1.5`", "0 or more"]),
    ("height_from_surface.csv", &["line 6", "`height_mm`", "`0.0`", "31.1 mL", "not from the liquid's surface"]),
    ("height_without_cup.csv", &["missing the cup's size", "# cup_diameter_mm", "height_mm"]),
    ("cone_without_top.csv", &["missing `cup_top_diameter_mm`", "a cone needs both", "cup_bottom_diameter_mm"]),
    ("cup_both_ways.csv", &["line 3", "`cup_diameter_mm`", "keep cup_diameter for a cylinder"]),
    ("kelvin_as_celsius.csv", &["line 6", "`temp_C`", "`296.3`", "between -40 and 250 C", "end the name in `_K`"]),
    ("fahrenheit_as_celsius.csv", &["line 2", "`mix_temp_C`", "`260`", "end the name in `_F`"]),
    ("celsius_as_kelvin.csv", &["line 2", "`mix_temp_K`", "`23.1`", "end the name in `_C`"]),
    ("gauge_as_ambient.csv", &["line 5", "`ambient_pressure_kPa`", "`0`", "between 30 and 120 kPa", "not a gauge's"]),
    ("pressure_and_altitude.csv", &["line 6", "`altitude_m`", "one of the two", "if a barometer was read"]),
    ("altitude_too_high.csv", &["line 5", "`altitude_m`", "`28000`", "between -500 and 11000 m", "check its unit"]),
    ("stopwatch_order.csv", &["line 5", "`cream_time_s`", "61 s after end_of_rise 58 s", "check both"]),
    ("not_utf8.csv", &["line 2", "byte 0xe9", "UTF-8", "save the file anew"]),
    ("ledger_no_charge.csv", &["line 1", "missing the column `charge_g`", "charge_oz", "mix_temp_C, mold_temp_C"]),
    ("ledger_no_name.csv", &["line 4", "missing `trial`", "a name for the casting"]),
    ("ledger_blank_charge.csv", &["line 4", "missing `charge_g`", "the mass mixed"]),
    ("ledger_zero_charge.csv", &["line 4", "`charge_g`", "`0`", "a number above 0"]),
    ("ledger_same_name.csv", &["line 4", "`trial`", "`1`", "stands in line 3 too", "3a"]),
    (
        "ledger_too_heavy.csv",
        &[
            "line 4",
            "`charge_g`",
            "part 63.5 + vent loss 1.1",
            "= 64.6 g",
            "no more than the charge, 60.0 g",
            "weigh again",
        ],
    ),
    ("ledger_outcome.csv", &["line 4", "`outcome`", "`good`", "`full`, `short` or `flash`", "leave it blank"]),
    ("ledger_yes_no.csv", &["line 4", "`gauge_at_stop`", "`maybe`", "`yes` or `no`", "blank for no"]),
    ("ledger_stop_without_peak.csv", &["line 4", "`gauge_at_stop`", "a peak pressure beside it", "full scale"]),
    ("ledger_no_trace.csv", &["line 4", "`trace_file`", "`no_such_trace.csv`", "as seen from the ledger's folder"]),
    ("ledger_bad_trace.csv", &["trace_backwards.csv, line 4", "`time_s`", "1 after 2 in line 3", "sort the rows"]),
    ("ledger_vents.csv", &["line 4", "`vent_mm`", "`x`", "a number"]),
    ("ledger_negative_pressure.csv", &["line 4", "`peak_pressure_kPa`", "`-4`", "0 or more"]),
    ("ledger_column.csv", &["line 1", "unknown `vent_los_g`", "did you mean `vent_loss_g`"]),
    ("ledger_cup.csv", &["line 2", "`left_in_cup_g`", "61.0 g left in the cup", "less than the charge", "weigh again"]),
    ("ledger_demold.csv", &["line 2", "`demold_time_s`", "closed at 20 s, demolded at 10 s", "end of mixing"]),
    ("ledger_no_rows.csv", &["is empty", "one casting a row"]),
    ("trace_backwards.csv", &["line 4", "`time_s`", "1 after 2 in line 3", "sort the rows"]),
    ("trace_absolute.csv", &["line 2", "`pressure_kPa`", "`101.2`", "a gauge pressure", "subtract the ambient"]),
    ("trace_no_series.csv", &["line 1", "`pressure_kPa` (gauge) or `temp_C`", "found only: time_s"]),
    ("mold_unknown_key.toml", &["line 6", "cavity.wal_area_cm2", "did you mean `wall_area_cm2`"]),
    ("mold_no_unit.toml", &["line 4", "`cavity.volume`", "has no unit", "volume_mL, volume_cm3"]),
    ("mold_no_wall_area.toml", &["line 3", "`cavity`", "missing `wall_area_cm2`", "2 (ab + bc + ca)"]),
    ("mold_no_volume.toml", &["line 3", "missing `volume_mL`", "mass of water that fills it"]),
    ("mold_two_volumes.toml", &["line 5", "`cavity.water_fill_g`", "one of the two", "if it was weighed"]),
    ("mold_negative.toml", &["line 12", "`vents.diameter_mm`", "`-3.0`", "a number above 0"]),
    ("mold_fraction.toml", &["line 14", "`vents.at_fill`", "`95`", "a share from 0 to 1", "`_percent`"]),
    ("mold_half_vent.toml", &["line 11", "`vents.count`", "`1.5`", "a whole number"]),
    ("mold_text.toml", &["line 4", "`cavity.volume_mL`", "\"620\"", "a number", "without quotes"]),
    ("mold_unknown_section.toml", &["line 10", "unknown `vent`", "did you mean `vents`"]),
    ("mold_single_vent.toml", &["line 10", "`vents`", "each headed `[[vents]]`", "look at its brackets"]),
    ("mold_no_name.toml", &["line 1", "missing `name = \"...\"`", "found only: cavity, note, vents"]),
    ("mold_broken.toml", &["line 4", "expected TOML", "write `key = 1.5`"]),
    ("grade_no_gel_rate.toml", &["line 3", "missing `gel_rate_per_s`", "start from `gel_rate_per_s = 0.02222`"]),
    ("grade_zero.toml", &["line 6", "`constants.gas_yield_mol_kg`", "`0`", "a number above 0"]),
    ("grade_conversion.toml", &["line 15", "`constants.gel_conversion`", "`65`", "write 0.65 for 65 %"]),
    ("grade_misspelled.toml", &["line 19", "unknown `viscosty_a`", "did you mean `viscosity_a`"]),
    ("grade_old_name.toml", &["line 21", "unknown `settle`", "did you mean `settling`"]),
    ("mold_old_name.toml", &["line 7", "unknown `kept_gas`", "did you mean `gas_retention`"]),
    ("grade_wrong_unit.toml", &["line 8", "`blow_activation_kcal_mol` has no unit", "blow_activation_kJ_mol"]),
    (
        "grade_infinite.toml",
        &["line 22", "`constants.cell_opening_time_s`", "`inf`", "a finite number", "or the key out"],
    ),
    ("grade_no_constants.toml", &["line 1", "missing the section `[constants]`", "found only: name"]),
    (
        "datasheet_no_density.toml",
        &["line 3", "missing `free_rise_density_kg_m3`", "or `gas_yield_mol_kg`", "`[recipe]`"],
    ),
    ("datasheet_misspelled.toml", &["line 5", "datasheet.string_gel_tme_s", "did you mean `string_gel_time_s`"]),
    ("datasheet_no_unit.toml", &["line 4", "`free_rise_density` has no unit", "free_rise_density_lb_ft3"]),
    ("datasheet_order.toml", &["line 5", "cream_time 61 s after string_gel_time 59 s", "check both"]),
    ("datasheet_ratio.toml", &["line 5", "`datasheet.mix_ratio`", "`1.32`", "text", "double quotes"]),
    ("datasheet_dense.toml", &["line 4", "1217.4 kg/m3 foamed", "1060.0 kg/m3 liquid", "check both units"]),
    ("datasheet_no_name.toml", &["line 1", "missing `name = \"...\"`", "found only: datasheet"]),
    ("datasheet_no_section.toml", &["line 3", "unknown `free_rise_density_kg_m3`", "Known: name, note, datasheet"]),
    ("datasheet_polyols_alone.toml", &["line 1", "missing the section `[recipe]`", "polyols"]),
    ("recipe_no_polyols.toml", &["line 1", "missing a section `[[polyols]]`", "found only: recipe"]),
    ("recipe_no_water.toml", &["line 2", "`recipe`", "missing `water`", "0 for a mix without"]),
    ("recipe_two_numbers.toml", &["line 9", "`polyols.hydroxyl_equivalent`", "one of the two", "data sheet"]),
    ("recipe_no_number.toml", &["line 6", "missing `hydroxyl_number`", "`hydroxyl_equivalent`"]),
    ("recipe_zero_index.toml", &["line 5", "`recipe.index`", "`0`", "a number above 0"]),
    ("recipe_misspelled.toml", &["line 3", "unknown `watter`", "did you mean `water`"]),
];

#[test]
fn every_bad_file_is_refused_with_place_and_mend() {
    for (name, fragments) in CASES {
        let message = message(name);
        assert!(message.contains(name) || message.contains("trace_backwards.csv"), "{name}: no file in `{message}`");
        for fragment in *fragments {
            assert!(message.contains(fragment), "{name}: no `{fragment}` in\n  {message}");
        }
    }
}

#[test]
fn every_bad_file_has_a_case() {
    let files: BTreeSet<String> = fs::read_dir(bad(""))
        .expect("data/bad")
        .map(|entry| entry.expect("entry").file_name().to_string_lossy().into_owned())
        .filter(|name| name != "README.md")
        .collect();
    let cases: BTreeSet<String> = CASES.iter().map(|(name, _)| (*name).to_owned()).collect();
    assert_eq!(files, cases);
}

#[test]
fn absent_files_and_patterns_are_named() {
    let message = RiseLog::read("nowhere/log.csv").expect_err("absent").to_string();
    assert!(message.contains("nowhere/log.csv") && message.contains("cannot be read"), "{message}");
    let message = read_rise_logs(&["nowhere/*.csv"]).expect_err("no match").to_string();
    assert!(message.contains("nowhere/*.csv") && message.contains("no file matches"), "{message}");
    let message = read_rise_logs(&[bad("")]).expect_err("a folder").to_string();
    assert!(message.contains("cannot be read"), "{message}");
}
