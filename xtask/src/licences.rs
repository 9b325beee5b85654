//! Licences of everything that is built in.

use std::path::Path;
use std::process::Command;

/// One third-party package.
#[derive(Debug)]
pub struct Package {
    /// Name and version.
    pub name: String,
    /// Its licence expression, empty when it states none.
    pub licence: String,
}

/// Licences that may be built in: permissive, or weak file-level copyleft.
pub const ACCEPTED: [&str; 14] = [
    "MIT",
    "Apache-2.0",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "ISC",
    "Zlib",
    "Unicode-3.0",
    "MPL-2.0",
    "CC0-1.0",
    "0BSD",
    "Unlicense",
    "BSL-1.0",
    "CDLA-Permissive-2.0",
    "MIT-0",
];

/// Every package of the build that is not ours.
///
/// # Errors
/// `cargo metadata` failed or gave something else.
pub fn packages(root: &Path) -> Result<Vec<Package>, String> {
    let output = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()))
        .args(["metadata", "--format-version", "1", "--locked"])
        .current_dir(root)
        .output()
        .map_err(|why| format!("cargo metadata: {why}"))?;
    if !output.status.success() {
        return Err(format!(
            "cargo metadata: {}",
            String::from_utf8_lossy(&output.stderr)
        ));
    }
    let answer: serde_json::Value =
        serde_json::from_slice(&output.stdout).map_err(|why| format!("cargo metadata: {why}"))?;
    let list = answer["packages"]
        .as_array()
        .ok_or("cargo metadata: no packages")?;
    Ok(list
        .iter()
        .filter(|package| !package["source"].is_null())
        .map(|package| Package {
            name: format!(
                "{} {}",
                package["name"].as_str().unwrap_or("?"),
                package["version"].as_str().unwrap_or("?")
            ),
            licence: package["license"].as_str().unwrap_or("").to_owned(),
        })
        .collect())
}

/// True when some choice that the expression offers is accepted.
#[must_use]
pub fn accepted(licence: &str) -> bool {
    spdx::Expression::parse_mode(licence, spdx::ParseMode::LAX).is_ok_and(|expression| {
        expression.evaluate(|requirement| {
            requirement
                .license
                .id()
                .is_some_and(|id| ACCEPTED.contains(&id.name))
        })
    })
}
