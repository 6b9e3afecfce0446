//! The one command that says whether the project is whole.

#![expect(clippy::print_stdout, reason = "a command speaks on the terminal")]

use crate::demo;
use crate::run::{cargo_line, target_dir};
use crate::{licences, system, tidy};
use anyhow::{Context, Result};

/// Formatting and lints, in both feature states.
pub(crate) fn check() -> Result<()> {
    system::packages()?;
    cargo_line("fmt --all --check", &[])?;
    tidy::tidy()?;
    cargo_line("clippy --workspace --all-targets -- -D warnings", &[])?;
    cargo_line("clippy --package achala --no-default-features --all-targets -- -D warnings", &[])
}

/// The tests of the real window, over the bundle that users get.
pub(crate) fn bundled() -> Result<()> {
    system::packages()?;
    demo::bundle()?;
    system::virtual_display();
    let bundle = target_dir().join("bundled/Achala.clap");
    let bundle = std::path::absolute(&bundle).with_context(|| format!("no path to {}", bundle.display()))?;
    let bundle = bundle.to_str().context("the path to the bundle is no text")?;
    cargo_line("test --package achala --test plugin -- window", &[("ACHALA_BUNDLE", bundle)])
}

/// Everything: `check`, docs with warnings denied, licences, tests in both feature states.
pub(crate) fn test() -> Result<()> {
    check()?;
    // Private items are documented too, so links to them lead somewhere.
    let flags = "-D warnings -A rustdoc::private_intra_doc_links";
    cargo_line("doc --workspace --no-deps --document-private-items", &[("RUSTDOCFLAGS", flags)])?;
    licences::licences()?;
    println!("\nThe core alone, as it builds without the plugin:");
    cargo_line("test --package achala --no-default-features", &[])?;
    system::virtual_display();
    println!("\nEverything, plugin and window included:");
    cargo_line("test --workspace", &[])?;
    println!("\nAll of it passed.");
    Ok(())
}
