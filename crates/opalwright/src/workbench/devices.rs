//! The list of paired devices, kept with the other settings.

use super::{BenchWorkbench, store_error};
use opal_server::{DeviceBook, WorkbenchError};

const DEVICES_KEY: &str = "devices";

impl DeviceBook for BenchWorkbench {
    fn device_book(&self) -> Result<Option<String>, WorkbenchError> {
        let store = &self.bench.ports().store;
        store.setting(DEVICES_KEY).map_err(store_error)
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
