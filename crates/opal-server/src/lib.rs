//! The workbench in the browser, served from this machine.
