//! What was kept at the counter, at the terminal.

use crate::json::{KeptDoc, KeptStoneDoc};

/// What was kept at the counter, stone by stone, oldest first within a stone.
#[must_use]
pub fn kept(doc: &KeptDoc) -> String {
    if doc.stones.is_empty() {
        return "Nothing was kept at the counter yet.\n".to_owned();
    }
    let stones: Vec<String> = doc.stones.iter().map(stone).collect();
    stones.join("\n")
}

fn stone(stone: &KeptStoneDoc) -> String {
    let whose = stone.customer.as_ref();
    let whose = whose.map_or_else(String::new, |who| format!(", brought by {who}"));
    let mut lines: Vec<(&str, String)> = Vec::new();
    for readings in &stone.readings {
        let mut words = format!("readings {}", readings.file);
        if !readings.by.is_empty() {
            words += &format!(", by {}", readings.by.join(", "));
        }
        for photo in &readings.photos {
            words += &format!(", photo {} (SHA-256 {:.12}…)", photo.name, photo.sha256);
        }
        lines.push((&readings.at, words));
    }
    for card in &stone.cards {
        let words = format!(
            "card for {}: {} (fingerprint {:.12}…)",
            card.market_name, card.title, card.fingerprint
        );
        lines.push((&card.at, words));
    }
    lines.sort();
    let mut out = format!("No. {}  {}{whose}\n", stone.number, stone.stone);
    for (at, words) in lines {
        out += &format!("  {}  {words}\n", minute(at));
    }
    out
}

/// A moment to the minute, in the world's time.
fn minute(at: &str) -> String {
    let minute = at.get(..16).unwrap_or(at);
    format!("{} UTC", minute.replace('T', " "))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::json::{KeptCardDoc, KeptReadingsDoc, PhotoDoc};

    #[test]
    fn a_stone_is_told_with_whose_it_is_who_looked_and_when() {
        let doc = KeptDoc::new(vec![KeptStoneDoc {
            number: 3,
            stone: "Ring stone".to_owned(),
            customer: Some("the customer in blue".to_owned()),
            readings: vec![KeptReadingsDoc {
                at: "2026-11-20T10:01:02Z".to_owned(),
                file: "ring.toml".to_owned(),
                fingerprint: "f".repeat(64),
                by: vec!["the cutter".to_owned()],
                photos: vec![PhotoDoc {
                    name: "edge.png".to_owned(),
                    sha256: "0123456789abcdef".to_owned(),
                }],
            }],
            cards: vec![KeptCardDoc {
                at: "2026-11-20T10:05:00Z".to_owned(),
                market: "australia".to_owned(),
                market_name: "Australia".to_owned(),
                title: "Opal doublet".to_owned(),
                fingerprint: "a".repeat(64),
                readings: "f".repeat(64),
                version: "0.1.0".to_owned(),
            }],
        }]);
        assert_eq!(
            kept(&doc),
            "No. 3  Ring stone, brought by the customer in blue\n  \
             2026-11-20 10:01 UTC  readings ring.toml, by the cutter, photo edge.png (SHA-256 0123456789ab…)\n  \
             2026-11-20 10:05 UTC  card for Australia: Opal doublet (fingerprint aaaaaaaaaaaa…)\n"
        );
    }
}
