//! The list of paired devices, kept with the other settings.

use super::{BenchWorkbench, store_error};
use opal_server::{DeviceBook, WorkbenchError};

const DEVICES_KEY: &str = "devices";
/// Settings that stay as they are when a copy is put back: a device that was shut out
/// does not come in again with it.
pub(crate) const SETTINGS_OF_THIS_BENCH: [&str; 1] = [DEVICES_KEY];

impl DeviceBook for BenchWorkbench {
    fn device_book(&self) -> Result<Option<String>, WorkbenchError> {
        let store = &self.bench.ports().store;
        let book = store.setting(DEVICES_KEY).map_err(store_error)?;
        // Empty where a copy with devices was put back at a bench without any.
        Ok(book.filter(|text| !text.is_empty()))
    }

    fn set_device_book(&self, text: &str) -> Result<(), WorkbenchError> {
        let ports = self.bench.ports();
        let now = ports.clock.now();
        ports
            .store
            .set_setting(DEVICES_KEY, text, now)
            .map_err(store_error)
    }
}
