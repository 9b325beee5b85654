//! A workbench that holds one made-up stone in memory, in the real types and
//! through the real views: for testing routes and for looking at the page.
#![allow(clippy::unwrap_used, dead_code, unreachable_pub)]

mod dealing;
mod tracing;
mod wheel;

use opal_evidence::{
    BarEvidence, Callipers, Evidence, Fault, Faults, Form, GravityEstimate, Look, Piece, Reading,
    Seen, Shape, Sighting,
};
use opal_geom::{Grid, TriMesh};
use opal_interior::{BarDraws, CrackDraws, Interiors, SpeckDraws};
use opal_plan::{
    Back, CutKind, CutStone, DomeProfile, Plan, PlanKind, PlanValue, Stock, StoneForecast,
    ValuedPlan,
};
use opal_server::{
    BidView, Counter, DeviceBook, Download, FORMAT, Forecast, KeepWith, NamedFile, PlanView,
    PriceBookText, PriceLook, Scene, StoneCard, StoneNumber, StonePage, Watch, Workbench,
    WorkbenchError,
};
use opal_stone::{ShapeSource, Stone};
use opal_units::{Angle, Currency, Draws, Length, Mass, Money, Seed, SpecificGravity, Volume};
use opal_value::{Bid, BidLimits, Binding, PriceUnit};
use serde_json::{Value, json};
use std::sync::{Arc, Mutex};
use std::time::Duration;

const N: usize = 200;

/// One stone for each evidence taken in.
#[derive(Default)]
pub struct MadeUpBench {
    taken: Mutex<Vec<(Value, bool)>>,
    book: Mutex<Option<String>>,
    logged: Mutex<Vec<opal_server::SentEvent>>,
    devices: Mutex<Option<String>>,
    studied: Mutex<Vec<opal_server::StudyFound>>,
    /// How long a run pretends to work.
    pub dawdle: Duration,
}

fn mm(v: f64) -> Length {
    Length::from_mm(v)
}

fn aud() -> Currency {
    Currency::new("AUD").unwrap()
}

/// A repeatable wave for draw `i`, roughly in -1..=1.
fn wave(i: usize, k: f64) -> f64 {
    ((i as f64 * 12.9898 + k * 78.233).sin() * 43_758.545).fract()
}

fn draws(f: impl Fn(usize) -> f64) -> Draws {
    Draws::new((0..N).map(f).collect()).unwrap()
}

pub fn evidence() -> Evidence {
    let sighting = |x: f64, y: f64, top: f64, thick: f64| Sighting {
        at_mm: [x, y],
        seen: Seen::Measured {
            top: Some(Reading {
                value: mm(top),
                sigma: mm(0.3),
            }),
            bottom: None,
            thickness: Some(Reading {
                value: mm(thick),
                sigma: mm(0.2),
            }),
        },
    };
    Evidence {
        piece: Piece {
            name: "Made-up piece".to_owned(),
            form: Form::Seam,
            origin: None,
            weight: Some(Mass::from_carats(192.0)),
            gravity: GravityEstimate {
                value: SpecificGravity::new(2.1),
                sigma: SpecificGravity::new(0.03),
                measured: false,
            },
            asking: None,
        },
        shape: Shape::Callipers(Callipers {
            length: mm(48.0),
            width: mm(33.0),
            height: mm(21.0),
            solidity: None,
        }),
        bars: vec![BarEvidence {
            name: "A".to_owned(),
            sightings: vec![
                sighting(0.5, 16.0, 11.0, 2.0),
                sighting(24.0, 0.6, 11.6, 1.6),
                sighting(47.4, 17.0, 12.4, 1.1),
                Sighting {
                    at_mm: [30.0, 32.5],
                    seen: Seen::Absent,
                },
            ],
            quick: None,
        }],
        exposures: vec![],
        cracks: vec![],
        step: None,
        torch: None,
        look: Look::default(),
    }
}

pub fn stone() -> Stone {
    let grid = Grid {
        nx: 97,
        ny: 67,
        cell_mm: 0.5,
        origin_mm: [0.0, 0.0],
    };
    let rise = |k: usize| {
        let [x, y] = grid.at_index(k);
        let r2 = ((x - 24.0) / 24.0).powi(2) + ((y - 16.5) / 16.5).powi(2);
        (r2 < 1.0).then(|| 10.5 * (1.0 - r2.powf(1.6)).powf(0.5))
    };
    let at = |sign: f64| {
        (0..grid.len())
            .map(|k| rise(k).map_or(f32::NAN, |r| (10.5 + sign * r) as f32))
            .collect::<Vec<_>>()
    };
    Stone {
        grid,
        top_mm: at(1.0),
        bottom_mm: at(-1.0),
        source: ShapeSource::Callipers,
        volume: (Volume::from_mm3(18_286.0), Volume::from_mm3(300.0)),
        skin_sigma: mm(0.5),
        weight: (Mass::from_carats(192.0), Mass::from_carats(0.1)),
        gravity: evidence().piece.gravity,
        check: None,
        mesh: None,
        stone_from_mesh: None,
        departure: None,
        notes: vec!["A made-up shape for tests.".to_owned()],
    }
}

pub fn interiors(stone: &Stone) -> Interiors {
    let cells = stone.grid.len();
    let (mut top_mm, mut thickness_mm) = (Vec::new(), Vec::new());
    for i in 0..N {
        for k in 0..cells {
            let [x, y] = stone.grid.at_index(k);
            let edge = (((x - 24.0) / 24.0).powi(2) + ((y - 16.5) / 16.5).powi(2)).min(1.0);
            let doubt = 1.2 * (1.0 - edge);
            let height = 11.0
                + 0.03 * x
                + 0.5 * (x / 9.0).sin()
                + doubt * wave(i, 1.0) * (1.0 + (y / 8.0 + wave(i, 2.0) * 3.0).sin());
            let thick = 1.5 - 0.04 * (y - 8.0)
                + 0.6 * wave(i, 3.0)
                + 0.4 * ((x + y) / 7.0 + 6.0 * wave(i, 4.0)).sin();
            let inside = stone.top_mm[k].is_finite();
            top_mm.push(if inside { height as f32 } else { f32::NAN });
            thickness_mm.push(if inside {
                thick.max(0.0) as f32
            } else {
                f32::NAN
            });
        }
    }
    Interiors {
        seed: Seed(7),
        n: N,
        grid: stone.grid,
        bars: vec![BarDraws {
            name: "A".to_owned(),
            top_mm,
            thickness_mm,
        }],
        specks: SpeckDraws {
            starts: vec![0; N + 1],
            specks: vec![],
        },
        cracks: CrackDraws {
            starts: vec![0; N + 1],
            cracks: vec![],
        },
        skin_inset_mm: vec![0.0; N],
        rests_on: vec!["four looks at the edge".to_owned()],
        warnings: vec![],
    }
}

fn cut_stone(kind: CutKind, a: f64, b: f64) -> CutStone {
    CutStone {
        kind,
        outline_mm: (0..64)
            .map(|k| {
                let t = std::f64::consts::TAU * f64::from(k) / 64.0;
                [22.0 + a * t.cos(), 14.0 + b * t.sin()]
            })
            .collect(),
        crown_mm: [22.0, 14.0],
        turn: Angle::from_degrees(0.0),
        edge_mm: [10.2, 0.03, 0.0],
        dome: DomeProfile {
            height: mm(1.6),
            exponent: 2.0,
        },
        back: Back {
            wall: mm(2.4),
            bevel: mm(0.4),
        },
        bar: 0,
        natural: None,
    }
}

fn valued(kind: PlanKind, stone: Option<CutStone>, worth: f64, size: f64) -> ValuedPlan {
    let forecast = StoneForecast {
        weight_ct: draws(|i| size * (1.0 + 0.2 * wave(i, 5.0))),
        colour_ct: draws(|i| 0.4 * size * (1.0 + 0.3 * wave(i, 6.0))),
        potch_ct: draws(|i| 0.6 * size * (1.0 + 0.1 * wave(i, 7.0))),
        clean_share: draws(|i| (0.85 + 0.3 * wave(i, 8.0)).clamp(0.0, 1.0)),
        least_colour_mm: draws(|i| (0.7 + 0.6 * wave(i, 9.0)).max(0.0)),
        mean_colour_mm: draws(|i| 1.2 + 0.5 * wave(i, 9.0)),
        thickness_mm: draws(|i| 4.4 + 0.3 * wave(i, 9.0)),
        face_mm2: draws(|_| 500.0),
        whole_chance: 0.95,
        worth: draws(|i| worth * (1.0 + 0.8 * wave(i, 10.0))),
    };
    let has = usize::from(stone.is_some());
    ValuedPlan {
        plan: Plan {
            kind,
            stones: stone.into_iter().collect(),
            cuts: vec![],
            stock: Stock {
                top: mm(6.0),
                bottom: mm(5.0),
                sides: mm(4.0),
                volume: Volume::from_mm3(9_000.0),
            },
            origin: opal_plan::Origin::Found,
        },
        stones: vec![forecast.clone(); has],
        stones_fixed: vec![forecast; has],
        value: PlanValue {
            fixed: draws(|i| worth * (0.8 + 0.9 * wave(i, 10.0)) - 120.0),
            adapting: draws(|i| worth * (0.95 + 0.8 * wave(i, 10.0)) - 120.0),
            seen_inside: draws(|i| worth * (1.1 + 0.7 * wave(i, 10.0)) - 120.0),
        },
        revisions: vec![("kept as planned".to_owned(), 0.7)],
        why: vec!["A made-up plan for tests.".to_owned()],
    }
}

fn plans() -> Vec<ValuedPlan> {
    let oval = CutKind::Standard {
        family: "oval".to_owned(),
        length: mm(18.0),
        width: mm(13.0),
    };
    vec![
        valued(
            PlanKind::Freeform,
            Some(cut_stone(CutKind::Freeform, 17.0, 10.0)),
            900.0,
            38.0,
        ),
        valued(
            PlanKind::Standard,
            Some(cut_stone(oval, 9.0, 6.5)),
            640.0,
            11.0,
        ),
        valued(PlanKind::AsItIs, None, 400.0, 192.0),
    ]
}

fn gain_at(price: Money) -> Draws {
    plans()[0]
        .value
        .adapting
        .map(|v| v - price.major())
        .unwrap()
}

pub fn forecast() -> Forecast {
    let (evidence, stone) = (evidence(), stone());
    let interiors = interiors(&stone);
    let price = Money::parse("520.00", aud()).unwrap();
    let limits = BidLimits {
        margin: 0.3,
        chance_of_loss: 0.25,
        worst_share: 0.1,
        worst_mean_loss: None,
        capital: None,
        fee: 0.0,
    };
    let gain = gain_at(price);
    let bid = Bid {
        price,
        binding: Binding::ChanceOfLoss,
        by_limit: [
            (Binding::Margin, Some(560.0)),
            (Binding::ChanceOfLoss, Some(520.0)),
            (Binding::WorstMean, None),
            (Binding::Stake, None),
        ],
        chance_of_loss: gain.share_below(0.0),
        worst_mean: gain.worst_mean(0.1),
        expected_gain: gain.mean(),
        expected_gain_error: gain.mean_error(),
        gain,
    };
    Forecast {
        format: FORMAT,
        seed: 7,
        n_interiors: N,
        currency: "AUD".to_owned(),
        prices_invented: true,
        bid: BidView::new(&bid, &limits, "It rests on made-up numbers.".to_owned()),
        plans: plans()
            .iter()
            .map(|p| PlanView::new(p, Some(120.0), Some(PriceUnit::Piece)))
            .collect(),
        scene: Scene::new(&stone, Some(&interiors), &evidence),
        rests_on: interiors.rests_on.clone(),
        warnings: interiors.warnings,
    }
}

impl MadeUpBench {
    pub fn with_one() -> Self {
        let bench = Self::default();
        bench
            .taken
            .lock()
            .unwrap()
            .push((json!({"piece": {"name": "Made-up piece"}}), false));
        bench
    }

    fn place(&self, stone: StoneNumber) -> Result<usize, WorkbenchError> {
        let n = self.taken.lock().unwrap().len();
        usize::try_from(stone - 1)
            .ok()
            .filter(|&k| k < n)
            .ok_or_else(|| WorkbenchError::NotFound(format!("there is no stone {stone}")))
    }

    fn card(&self, k: usize) -> StoneCard {
        let (evidence, ready) = self.taken.lock().unwrap()[k].clone();
        StoneCard {
            number: k as i64 + 1,
            name: evidence["piece"]["name"].as_str().unwrap_or("?").to_owned(),
            form: "seam".to_owned(),
            origin: None,
            weight_ct: evidence["piece"]["weight_ct"].as_f64(),
            taken_in: "2026-01-02T03:04:05Z".to_owned(),
            asking: None,
            bid: ready.then(|| Money::parse("520.00", aud()).unwrap().into()),
            chance_of_loss: ready.then_some(0.2),
            invented: k == 0,
        }
    }
}

impl DeviceBook for MadeUpBench {
    fn device_book(&self) -> Result<Option<String>, WorkbenchError> {
        Ok(self.devices.lock().unwrap().clone())
    }

    fn set_device_book(&self, text: &str) -> Result<(), WorkbenchError> {
        *self.devices.lock().unwrap() = Some(text.to_owned());
        Ok(())
    }
}

impl Workbench for MadeUpBench {
    fn stones(&self) -> Result<Vec<StoneCard>, WorkbenchError> {
        let n = self.taken.lock().unwrap().len();
        Ok((0..n).rev().map(|k| self.card(k)).collect())
    }

    fn take_in(
        &self,
        evidence: &Value,
        _files: &[NamedFile],
    ) -> Result<StoneNumber, WorkbenchError> {
        let mut faults = Vec::new();
        if evidence["format"] != "opalwright-evidence/1" {
            faults.push(Fault::new(
                "format",
                &evidence["format"],
                "it must be opalwright-evidence/1",
            ));
        }
        if evidence["piece"]["name"].as_str().unwrap_or("").is_empty() {
            faults.push(Fault::new("piece.name", "empty", "give the piece a name"));
        }
        if !faults.is_empty() {
            return Err(WorkbenchError::Faults(Faults(faults)));
        }
        let mut taken = self.taken.lock().unwrap();
        taken.push((evidence.clone(), false));
        Ok(taken.len() as i64)
    }

    fn take_in_again(
        &self,
        stone: StoneNumber,
        evidence: &Value,
        _files: &[NamedFile],
    ) -> Result<(), WorkbenchError> {
        let k = self.place(stone)?;
        self.taken.lock().unwrap()[k] = (evidence.clone(), false);
        Ok(())
    }

    fn stone(&self, number: StoneNumber) -> Result<StonePage, WorkbenchError> {
        let k = self.place(number)?;
        let (evidence_json, forecast_ready) = self.taken.lock().unwrap()[k].clone();
        Ok(StonePage {
            wishes: serde_json::json!({}),
            card: self.card(k),
            evidence: evidence_json,
            scene: Scene::new(&stone(), None, &evidence()),
            check: Some("Weight and shape agree (made up).".to_owned()),
            notes: stone().notes,
            forecast_ready,
        })
    }

    fn run(&self, stone: StoneNumber, watch: &dyn Watch) -> Result<(), WorkbenchError> {
        let k = self.place(stone)?;
        for part in 0..20 {
            if watch.cancelled() {
                return Err(WorkbenchError::Cancelled);
            }
            watch.at("drawing possible insides", f64::from(part) / 20.0);
            std::thread::sleep(self.dawdle / 20);
        }
        self.taken.lock().unwrap()[k].1 = true;
        Ok(())
    }

    fn forecast(&self, stone: StoneNumber) -> Result<Option<Forecast>, WorkbenchError> {
        let k = self.place(stone)?;
        Ok(self.taken.lock().unwrap()[k].1.then(forecast))
    }

    fn at_price(&self, stone: StoneNumber, amount: &str) -> Result<PriceLook, WorkbenchError> {
        self.place(stone)?;
        let price = Money::parse(amount, aud()).map_err(|e| {
            WorkbenchError::Faults(Fault::new("amount", amount, e.to_string()).into())
        })?;
        Ok(PriceLook::new(price, &gain_at(price), 0.1))
    }

    fn sheet(&self, stone: StoneNumber, plan: usize) -> Result<Download, WorkbenchError> {
        self.place(stone)?;
        if plan >= plans().len() {
            return Err(WorkbenchError::NotFound(format!("there is no plan {plan}")));
        }
        Ok(Download {
            name: "sheet \"1\"/é.pdf".to_owned(),
            media_type: "application/pdf",
            bytes: b"%PDF-1.7".to_vec(),
        })
    }

    fn export(&self, stone: StoneNumber) -> Result<Download, WorkbenchError> {
        self.place(stone)?;
        Ok(Download {
            name: "stone.json".to_owned(),
            media_type: "application/json",
            bytes: b"{}".to_vec(),
        })
    }

    fn scan(&self, stone: StoneNumber) -> Result<Option<Arc<TriMesh>>, WorkbenchError> {
        self.place(stone)?;
        Ok(None)
    }

    fn ledger(&self, period: Option<&str>) -> Result<serde_json::Value, WorkbenchError> {
        Ok(serde_json::json!({ "format": "opalwright-ledger/1", "period": period }))
    }

    fn entries(&self, period: Option<&str>) -> Result<serde_json::Value, WorkbenchError> {
        Ok(serde_json::json!({ "format": "opalwright-entries/1", "period": period }))
    }

    fn ledger_pdf(&self, _period: Option<&str>, held: bool) -> Result<Download, WorkbenchError> {
        Ok(Download {
            name: if held { "held.pdf" } else { "books.pdf" }.to_owned(),
            media_type: "application/pdf",
            bytes: b"%PDF-1.7".to_vec(),
        })
    }

    fn entries_csv(&self, _period: Option<&str>) -> Result<Download, WorkbenchError> {
        Ok(Download {
            name: "entries.csv".to_owned(),
            media_type: "text/csv; charset=utf-8",
            bytes: b"number\r\n".to_vec(),
        })
    }

    fn book(
        &self,
        slips: &serde_json::Value,
        after: Option<u64>,
    ) -> Result<serde_json::Value, WorkbenchError> {
        if let Some(after) = after.filter(|after| *after != 0) {
            return Err(WorkbenchError::Faults(
                Fault::new("after", after, "grown").into(),
            ));
        }
        if slips.is_array() {
            return Ok(serde_json::json!({ "entries": slips }));
        }
        let limit = "it must be a list of slips";
        Err(WorkbenchError::Faults(
            Fault::new("slips", slips, limit).into(),
        ))
    }

    fn price_book(&self) -> Result<PriceBookText, WorkbenchError> {
        let own = self.book.lock().unwrap().clone();
        Ok(PriceBookText {
            example: own.is_none(),
            currency: "AUD".to_owned(),
            fields: Some(serde_json::json!({ "currency": "AUD" })),
            text: own.unwrap_or_else(|| "# made up\ncurrency = \"AUD\"\n".to_owned()),
        })
    }

    fn set_wishes(&self, stone: i64, wishes: &Value) -> Result<(), WorkbenchError> {
        self.stone(stone)?;
        if wishes.is_object() {
            return Ok(());
        }
        let limit = "it must hold orders, outlines or ground";
        Err(WorkbenchError::Faults(
            Fault::new("wishes", wishes, limit).into(),
        ))
    }

    fn change_price_book(&self, changes: &[(String, Option<Value>)]) -> Result<(), WorkbenchError> {
        let mut text = self.price_book()?.text;
        for (field, value) in changes {
            let Some(value) = value else {
                let limit = "must be a field that is there";
                return Err(WorkbenchError::Faults(
                    Fault::new(field.clone(), "taken out", limit).into(),
                ));
            };
            text += &format!("{field} = {value}\n");
        }
        self.set_price_book(&text)
    }

    fn set_price_book(&self, text: &str) -> Result<(), WorkbenchError> {
        if !text.contains("currency") {
            let mut fault = Fault::new("currency", "missing", "name the book's currency");
            fault.line = Some(1);
            return Err(WorkbenchError::Faults(fault.into()));
        }
        *self.book.lock().unwrap() = Some(text.to_owned());
        Ok(())
    }
}

/// Keeps nothing: stone 1 has one card and one photo, made up.
impl Counter for MadeUpBench {
    fn looks(&self) -> Value {
        serde_json::json!([{ "key": "back", "name": "Back", "question": "?", "values": [] }])
    }

    fn identify(&self, readings: &Value) -> Result<Value, WorkbenchError> {
        if readings["format"] == "opalwright-readings/1" {
            return Ok(serde_json::json!({ "answer": "made up" }));
        }
        let limit = "it must be opalwright-readings/1";
        Err(WorkbenchError::Faults(
            Fault::new("format", &readings["format"], limit).into(),
        ))
    }

    fn weigh(&self, readings: &Value) -> Result<Value, WorkbenchError> {
        self.identify(readings)?;
        Ok(serde_json::json!({ "format": "opalwright-weighing/1" }))
    }

    fn papers(&self, readings: &Value, market: &str) -> Result<Value, WorkbenchError> {
        self.identify(readings)?;
        Ok(serde_json::json!({ "title": "made up", "market": market }))
    }

    fn card(
        &self,
        readings: &Value,
        _market: &str,
        _kept_with: Option<StoneNumber>,
    ) -> Result<Download, WorkbenchError> {
        self.identify(readings)?;
        Ok(Download {
            name: "card.pdf".to_owned(),
            media_type: "application/pdf",
            bytes: b"%PDF-1.7".to_vec(),
        })
    }

    fn look_over_words(
        &self,
        readings: &Value,
        _market: &str,
        text: &str,
    ) -> Result<Value, WorkbenchError> {
        self.identify(readings)?;
        Ok(serde_json::json!({ "text": text, "faults": [] }))
    }

    fn keep_readings(
        &self,
        readings: &Value,
        whose: &KeepWith,
        photos: &[NamedFile],
    ) -> Result<StoneNumber, WorkbenchError> {
        self.identify(readings)?;
        match whose {
            KeepWith::Stone { stone } => self.place(*stone).map(|_| *stone),
            KeepWith::Customer { .. } => Ok(100 + photos.len() as i64),
        }
    }

    fn kept(&self, words: Option<&str>) -> Result<Value, WorkbenchError> {
        Ok(serde_json::json!({ "format": "opalwright-kept/1", "stones": [], "asked": words }))
    }

    fn kept_readings(&self, stone: StoneNumber, _mark: &str) -> Result<Value, WorkbenchError> {
        self.place(stone)?;
        Ok(serde_json::json!({ "format": "opalwright-readings/1" }))
    }

    fn kept_card(&self, stone: StoneNumber, _mark: &str) -> Result<Download, WorkbenchError> {
        self.place(stone)?;
        let readings = serde_json::json!({ "format": "opalwright-readings/1" });
        Counter::card(self, &readings, "", None)
    }

    fn kept_photo(&self, stone: StoneNumber, _sha256: &str) -> Result<Download, WorkbenchError> {
        self.place(stone)?;
        Ok(Download {
            name: "edge.png".to_owned(),
            media_type: "image/png",
            bytes: vec![0x89, b'P', b'N', b'G'],
        })
    }
}
