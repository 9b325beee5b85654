//! Which devices on the shop's network may use the workbench.
//!
//! A device is let in by a code that this computer shows: good once, for a
//! short while, for few tries. It then holds a token of its own, of which the
//! store keeps only the SHA-256, and which can be withdrawn.

use crate::workbench::WorkbenchError;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::fmt::Write as _;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// How long a code is good. Chosen: long enough to carry it to the bench.
pub(crate) const CODE_LASTS: Duration = Duration::from_secs(600);
/// Wrong tries before a code is void. Chosen: with eight signs of 31, five tries
/// hit once in 10¹¹.
const WRONG_MAX: u32 = 5;
const CODE_SIGNS: usize = 8;
/// No sign that is taken for another when read off a screen.
const ALPHABET: &[u8; 31] = b"23456789ABCDEFGHJKMNPQRSTUVWXYZ";
/// Longest name of a device.
const NAME_CHARS_MAX: usize = 40;
/// Most devices at a time. Chosen: a shop has few.
const DEVICES_MAX: usize = 32;

/// Where the list of devices is kept.
pub trait DeviceBook {
    /// The list as it was last kept.
    ///
    /// # Errors
    /// The store cannot be read.
    fn device_book(&self) -> Result<Option<String>, WorkbenchError>;

    /// Keeps the list.
    ///
    /// # Errors
    /// The store cannot be written.
    fn set_device_book(&self, text: &str) -> Result<(), WorkbenchError>;
}

/// A device that was paired.
#[derive(Clone, Debug, Eq, PartialEq, Serialize, Deserialize)]
pub(crate) struct Device {
    /// Counted from 1; never given twice.
    pub(crate) number: u32,
    /// What its user calls it.
    pub(crate) name: String,
    /// When it was paired, RFC 3339.
    pub(crate) paired_at: String,
    token_sha256: String,
    /// When it was withdrawn.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) withdrawn_at: Option<String>,
}

/// Why a device was not paired.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum NotPaired {
    /// There is no code that is good now.
    NoCode,
    /// Another code is good.
    Wrong,
    /// So many are paired already.
    TooMany,
    /// The list cannot be kept.
    Book(WorkbenchError),
}

struct Code {
    text: String,
    made: Instant,
    wrong: u32,
}

struct State {
    code: Option<Code>,
    devices: Vec<Device>,
}

/// Codes and devices.
pub(crate) struct Pairing(Mutex<State>);

impl Pairing {
    /// With the devices that were kept.
    ///
    /// # Errors
    /// The store cannot be read.
    pub(crate) fn open(book: &(impl DeviceBook + ?Sized)) -> Result<Self, WorkbenchError> {
        let devices = match book.device_book()? {
            None => Vec::new(),
            Some(text) => serde_json::from_str(&text).map_err(|error| {
                WorkbenchError::Store(format!("the list of paired devices is damaged: {error}"))
            })?,
        };
        Ok(Self(Mutex::new(State {
            code: None,
            devices,
        })))
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A fresh code, in place of any before it.
    ///
    /// # Errors
    /// The system gives no random numbers.
    pub(crate) fn new_code(&self) -> Result<String, WorkbenchError> {
        let mut text = String::new();
        while text.len() < CODE_SIGNS {
            let [byte] = random()?;
            // Bytes past the last whole turn would make some signs likelier.
            if usize::from(byte) < 256 - 256 % ALPHABET.len() {
                text.push(char::from(ALPHABET[usize::from(byte) % ALPHABET.len()]));
            }
        }
        self.state().code = Some(Code {
            text: text.clone(),
            made: Instant::now(),
            wrong: 0,
        });
        Ok(text)
    }

    /// Pairs a device by its code; gives its token, which is told this once.
    pub(crate) fn pair(
        &self,
        book: &(impl DeviceBook + ?Sized),
        said: &str,
        name: &str,
        now: Instant,
    ) -> Result<String, NotPaired> {
        let mut state = self.state();
        let code = state
            .code
            .as_mut()
            .filter(|code| now.saturating_duration_since(code.made) < CODE_LASTS)
            .filter(|code| code.wrong < WRONG_MAX)
            .ok_or(NotPaired::NoCode)?;
        let said: String = said
            .chars()
            .filter(char::is_ascii_alphanumeric)
            .map(|c| c.to_ascii_uppercase())
            .collect();
        if said != code.text {
            code.wrong += 1;
            return Err(NotPaired::Wrong);
        }
        let here = state.devices.iter().filter(|d| d.withdrawn_at.is_none());
        if here.count() >= DEVICES_MAX {
            return Err(NotPaired::TooMany);
        }
        let token = hex(&random::<32>().map_err(NotPaired::Book)?);
        let name: String = name.trim().chars().take(NAME_CHARS_MAX).collect();
        let mut devices = state.devices.clone();
        devices.push(Device {
            number: devices.len() as u32 + 1,
            name: if name.is_empty() {
                "A device".to_owned()
            } else {
                name
            },
            paired_at: Timestamp::now().to_string(),
            token_sha256: hashed(&token),
            withdrawn_at: None,
        });
        keep(book, &devices).map_err(NotPaired::Book)?;
        state.devices = devices;
        state.code = None;
        Ok(token)
    }

    /// True for the token of a device that is paired and was not withdrawn.
    pub(crate) fn knows(&self, token: &str) -> bool {
        let hash = hashed(token);
        let state = self.state();
        let mut here = state.devices.iter().filter(|d| d.withdrawn_at.is_none());
        here.any(|device| device.token_sha256 == hash)
    }

    /// The devices that may come in.
    pub(crate) fn devices(&self) -> Vec<Device> {
        let mut devices = self.state().devices.clone();
        devices.retain(|device| device.withdrawn_at.is_none());
        devices
    }

    /// Shuts a device out; false where there is none of that number.
    ///
    /// # Errors
    /// The list cannot be kept; the device may come in still.
    pub(crate) fn withdraw(
        &self,
        book: &(impl DeviceBook + ?Sized),
        number: u32,
    ) -> Result<bool, WorkbenchError> {
        let mut state = self.state();
        let mut devices = state.devices.clone();
        let device = devices
            .iter_mut()
            .find(|device| device.number == number && device.withdrawn_at.is_none());
        let Some(device) = device else {
            return Ok(false);
        };
        device.withdrawn_at = Some(Timestamp::now().to_string());
        keep(book, &devices)?;
        state.devices = devices;
        Ok(true)
    }
}

fn keep(book: &(impl DeviceBook + ?Sized), devices: &[Device]) -> Result<(), WorkbenchError> {
    let text = serde_json::to_string(devices)
        .map_err(|error| WorkbenchError::Internal(error.to_string()))?;
    book.set_device_book(&text)
}

fn random<const N: usize>() -> Result<[u8; N], WorkbenchError> {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes).map_err(|error| {
        WorkbenchError::Internal(format!("the system gives no random numbers: {error}"))
    })?;
    Ok(bytes)
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

fn hashed(token: &str) -> String {
    hex(&Sha256::digest(token.as_bytes()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Default)]
    struct Paper(Mutex<Option<String>>);

    impl DeviceBook for Paper {
        fn device_book(&self) -> Result<Option<String>, WorkbenchError> {
            Ok(self.0.lock().expect("a lock").clone())
        }

        fn set_device_book(&self, text: &str) -> Result<(), WorkbenchError> {
            *self.0.lock().expect("a lock") = Some(text.to_owned());
            Ok(())
        }
    }

    fn opened() -> (Paper, Pairing) {
        let paper = Paper::default();
        let pairing = Pairing::open(&paper).expect("opens");
        (paper, pairing)
    }

    #[test]
    fn a_code_lets_one_device_in_and_the_book_holds_no_token() {
        let (paper, pairing) = opened();
        let code = pairing.new_code().expect("a code");
        let spelt = format!("{}-{}", code[..4].to_lowercase(), &code[4..]);
        let token = pairing.pair(&paper, &spelt, " Tablet ", Instant::now());
        let token = token.expect("pairs");
        assert!(pairing.knows(&token) && !pairing.knows(&token[1..]) && !pairing.knows(""));
        let again = pairing.pair(&paper, &code, "Another", Instant::now());
        assert_eq!(again, Err(NotPaired::NoCode));
        let book = paper.device_book().expect("reads").expect("is kept");
        assert!(!book.contains(&token) && book.contains("\"Tablet\""));
        // A later start knows it still.
        let later = Pairing::open(&paper).expect("opens");
        assert!(later.knows(&token));
        assert_eq!(later.withdraw(&paper, 1), Ok(true));
        assert_eq!(later.withdraw(&paper, 1), Ok(false));
        assert!(!later.knows(&token) && later.devices().is_empty());
        assert!(!Pairing::open(&paper).expect("opens").knows(&token));
    }

    #[test]
    fn a_code_is_void_after_five_wrong_tries_or_ten_minutes() {
        let (paper, pairing) = opened();
        let code = pairing.new_code().expect("a code");
        for _ in 0..WRONG_MAX {
            let wrong = pairing.pair(&paper, "AAAA-AAAA", "x", Instant::now());
            assert_eq!(wrong, Err(NotPaired::Wrong));
        }
        let late = pairing.pair(&paper, &code, "x", Instant::now());
        assert_eq!(late, Err(NotPaired::NoCode));
        let code = pairing.new_code().expect("a code");
        let late = pairing.pair(&paper, &code, "x", Instant::now() + CODE_LASTS);
        assert_eq!(late, Err(NotPaired::NoCode));
        assert!(pairing.devices().is_empty());
    }

    /// SHA-256 of "abc": FIPS 180-4's example.
    #[test]
    fn tokens_are_kept_as_sha256() {
        assert_eq!(
            hashed("abc"),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }
}
