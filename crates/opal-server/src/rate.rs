//! How much one device may ask at once.

use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// Requests in one window. Chosen: the page opens with about fifty, and a hand
/// makes a few each second.
pub(crate) const ALLOWED: u32 = 400;
const WINDOW: Duration = Duration::from_secs(10);
/// Addresses that are remembered at most; more than a shop's network has.
const REMEMBERED_MAX: usize = 512;

/// Counts requests by address in windows of ten seconds.
#[derive(Default)]
pub(crate) struct Rate(Mutex<HashMap<IpAddr, (Instant, u32)>>);

impl Rate {
    /// True while this address stays within what is allowed.
    pub(crate) fn allows(&self, ip: IpAddr) -> bool {
        self.allows_at(ip, Instant::now())
    }

    fn allows_at(&self, ip: IpAddr, now: Instant) -> bool {
        let mut seen = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if seen.len() >= REMEMBERED_MAX && !seen.contains_key(&ip) {
            seen.retain(|_, (since, _)| now.saturating_duration_since(*since) < WINDOW);
            if seen.len() >= REMEMBERED_MAX {
                return false;
            }
        }
        let (since, count) = seen.entry(ip).or_insert((now, 0));
        if now.saturating_duration_since(*since) >= WINDOW {
            (*since, *count) = (now, 0);
        }
        *count += 1;
        *count <= ALLOWED
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_address_is_held_back_until_its_window_is_over_and_no_other() {
        let (rate, start) = (Rate::default(), Instant::now());
        let [one, other] = ["10.0.0.1", "10.0.0.2"].map(|ip| ip.parse().expect("an address"));
        for _ in 0..ALLOWED {
            assert!(rate.allows_at(one, start));
        }
        assert!(!rate.allows_at(one, start + WINDOW / 2));
        assert!(rate.allows_at(other, start + WINDOW / 2));
        assert!(rate.allows_at(one, start + WINDOW));
    }

    #[test]
    fn what_is_remembered_stays_bounded() {
        let (rate, start) = (Rate::default(), Instant::now());
        let address = |k: usize| IpAddr::from([10, 0, (k / 256) as u8, (k % 256) as u8]);
        assert!((0..REMEMBERED_MAX).all(|k| rate.allows_at(address(k), start)));
        assert!(!rate.allows_at(address(REMEMBERED_MAX), start));
        assert!(rate.allows_at(address(REMEMBERED_MAX), start + WINDOW));
    }
}
