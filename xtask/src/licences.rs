//! The licence of every dependency, against the list in `deny.toml`.
//!
//! The same question as cargo-deny's `check licenses`, answered from `cargo metadata` with the
//! `spdx` crate, so that a fresh machine need not build another tool. `deny.toml` is in
//! cargo-deny's own format: that tool can be run on it as well.

#![expect(clippy::print_stdout, reason = "a command speaks on the terminal")]

use crate::run::cargo;
use anyhow::{Context, Result, bail};
use spdx::{Expression, LicenseReq};

/// Fails with the names of the packages whose licence is not allowed.
pub(crate) fn licences() -> Result<()> {
    let allowed = allowed()?;
    let output = cargo().args(["metadata", "--format-version", "1", "--locked"]).output()?;
    if !output.status.success() {
        bail!("cargo metadata failed: {}", String::from_utf8_lossy(&output.stderr));
    }
    let metadata: serde_json::Value = serde_json::from_slice(&output.stdout)?;
    let packages = metadata["packages"].as_array().context("cargo metadata lists no packages")?;
    let mut wrong = Vec::new();
    for package in packages.iter().filter(|p| !p["source"].is_null()) {
        let name =
            format!("{} {}", package["name"].as_str().unwrap_or("?"), package["version"].as_str().unwrap_or("?"));
        // Old manifests write "MIT/Apache-2.0", which SPDX spells with OR.
        let text = package["license"].as_str().unwrap_or("").replace('/', " OR ");
        match Expression::parse(&text) {
            Ok(expression) if expression.evaluate(|req| is_allowed(&allowed, req)) => {}
            Ok(_) => wrong.push(format!("{name}: '{text}' is not in deny.toml's list")),
            Err(error) => wrong.push(format!("{name}: '{text}' is no SPDX expression ({})", error.reason)),
        }
    }
    if !wrong.is_empty() {
        bail!(
            "{} of {} dependencies have a licence that is not allowed:\n  {}",
            wrong.len(),
            packages.len(),
            wrong.join("\n  ")
        );
    }
    println!("Licences: {} packages, all within deny.toml's list.", packages.len());
    Ok(())
}

fn allowed() -> Result<Vec<String>> {
    let text = std::fs::read_to_string("deny.toml").context("deny.toml cannot be read")?;
    let value: toml::Value = toml::from_str(&text).context("deny.toml is not TOML")?;
    let list = value.get("licenses").and_then(|l| l.get("allow")).and_then(|a| a.as_array());
    let list = list.context("deny.toml has no list licenses.allow")?;
    Ok(list.iter().filter_map(|v| v.as_str().map(str::to_owned)).collect())
}

fn is_allowed(allowed: &[String], req: &LicenseReq) -> bool {
    let name = req.to_string();
    allowed.contains(&name)
}
