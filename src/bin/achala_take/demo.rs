//! `demo`: the demo take as a sound file, with its truth.

use crate::args::DemoArgs;
use crate::print;
use achala::take::{TakeError, wav, write};
use achala::units::SampleRate;
use achala::voice::demo::{RAGA, TONIC, demo_take};

pub(crate) fn run(args: &DemoArgs) -> Result<(), TakeError> {
    let rate = SampleRate::new(args.rate).map_err(|e| TakeError::Usage(e.to_string()))?;
    let sung = demo_take(rate);
    let take = args.out.join("demo-take.wav");
    wav::write(&take, &[&sung.samples], rate)?;
    write::whole(&args.out.join("demo-take.f0.csv"), |out| sung.truth.write_frames(out))?;
    write::whole(&args.out.join("demo-take.notes.csv"), |out| sung.truth.write_notes(out))?;
    print(|out| {
        writeln!(out, "{}: sung on Sa = {TONIC} in {RAGA}. Check it with", take.display())?;
        writeln!(out, "  achala-take check {} --tonic {TONIC} --raga {RAGA}", take.display())
    })
}
