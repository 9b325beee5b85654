//! Density of water.

/// Coldest and warmest water, °C, for which [`density_g_per_cm3`] holds.
pub const RANGE_C: (f64, f64) = (0.0, 40.0);

/// Density of pure, air-free water at one atmosphere, g/cm³; `None` outside
/// 0–40 °C.
///
/// # Method
/// Tanaka et al. (2001), Metrologia 38, 301: the table recommended by the
/// International Committee for Weights and Measures.
///
/// # Validity
/// About 1e-6 for water of standard isotopes; tap water is up to 5e-4 denser.
#[must_use]
pub fn density_g_per_cm3(celsius: f64) -> Option<f64> {
    let t = celsius;
    (RANGE_C.0..=RANGE_C.1).contains(&t).then(|| {
        let fall = (t - 3.983_035).powi(2) * (t + 301.797) / (522_528.9 * (t + 69.348_81));
        0.999_974_950 * (1.0 - fall)
    })
}

/// The same by Kell's older formula, kept as an independent check.
///
/// # Method
/// Kell (1975), J. Chem. Eng. Data 20, 97. The denominator's coefficient is
/// 16.879850e-3; a misprinted 16.897850e-3 is in circulation.
#[must_use]
pub fn density_kell_g_per_cm3(celsius: f64) -> Option<f64> {
    let t = celsius;
    (RANGE_C.0..=RANGE_C.1).contains(&t).then(|| {
        let top = 999.839_52
            + t * (16.945_176
                + t * (-7.987_040_1e-3
                    + t * (-46.170_461e-6 + t * (105.563_02e-9 + t * -280.542_53e-12))));
        top / (1.0 + 16.879_850e-3 * t) / 1000.0
    })
}

/// What dissolved air takes away from the density, g/cm³ (0–20 °C fit, used to
/// 25 °C; Bignell 1983, Metrologia 19, from memory).
#[must_use]
pub fn air_saturation_g_per_cm3(celsius: f64) -> f64 {
    (-0.004_612 + 0.000_106 * celsius) / 1000.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// IAPWS-95 (Wagner & Pruss 2002) at one atmosphere, kg/m³, as computed by
    /// CoolProp 6 and by the iapws library, which agree to these digits.
    const IAPWS95: [(f64, f64); 8] = [
        (4.0, 999.9749),
        (10.0, 999.7025),
        (15.0, 999.1026),
        (20.0, 998.2072),
        (22.0, 997.7735),
        (25.0, 997.0476),
        (30.0, 995.6495),
        (40.0, 992.2164),
    ];

    #[test]
    fn agrees_with_iapws95() {
        for (t, expected) in IAPWS95 {
            let ours = density_g_per_cm3(t).expect("in range") * 1000.0;
            assert!((ours - expected).abs() < 1.3e-3, "{t} °C: {ours}");
            let kell = density_kell_g_per_cm3(t).expect("in range") * 1000.0;
            assert!((kell - expected).abs() < 4e-3, "{t} °C: {kell}");
        }
    }

    /// The printed values of the two papers' own tables.
    #[test]
    fn agrees_with_the_published_tables() {
        for (t, tanaka, kell) in [
            (4.0, 999.9749, 999.9720),
            (20.0, 998.2067, 998.2041),
            (25.0, 997.0470, 997.0449),
        ] {
            assert!((density_g_per_cm3(t).expect("in range") * 1000.0 - tanaka).abs() < 1e-4);
            assert!((density_kell_g_per_cm3(t).expect("in range") * 1000.0 - kell).abs() < 1e-4);
        }
    }

    #[test]
    fn agrees_with_the_shared_table() {
        let path = concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/../../../shared/data/H_tables/water_density.csv"
        );
        let Ok(text) = std::fs::read_to_string(path) else {
            println!("skipped: no shared data");
            return;
        };
        for line in text.lines().skip(1) {
            let cells: Vec<f64> = line
                .split(',')
                .map(|c| c.parse().expect("number"))
                .collect();
            let ours = density_g_per_cm3(cells[0]).expect("in range") * 1000.0;
            assert!((ours - cells[1]).abs() < 1.3e-3);
            assert!((ours - cells[2]).abs() < 1e-4);
        }
    }

    #[test]
    fn refuses_ice_and_steam() {
        assert_eq!(density_g_per_cm3(-0.1), None);
        assert_eq!(density_g_per_cm3(f64::NAN), None);
        assert_eq!(density_g_per_cm3(41.0), None);
    }
}
