//! `timing`: whether this machine keeps time well enough, and how long a round trip through a cable
//! takes.

mod json;
mod words;

use crate::args::Timing as Asked;
use crate::exit::{Ended, Failure};
use crate::{alarm, say};
use chaconne_rig::{Loopback, Spin, Timing, Verdict};

/// Measures and reports. A machine that is not good enough is a failed check, and so is a cable
/// through which nothing came back.
pub fn timing(asked: Asked) -> Result<Ended, Failure> {
    match asked.loopback.as_slice() {
        [out, input] => {
            let (out, input, count) = (out.clone(), input.clone(), asked.count);
            loopback(Loopback { out, input, count }, asked.json)
        }
        _ => evenness(&asked),
    }
}

fn evenness(asked: &Asked) -> Result<Ended, Failure> {
    let spin = if asked.no_spin { Spin::NEVER } else { Spin::default() };
    let caught = alarm::catch()?;
    let run = Timing { seconds: asked.seconds, load: asked.load, spin }.start()?;
    let signals = alarm::watch(caught, run.rig().switch())?;
    say::message(&format!("measuring for {} s; Ctrl-C ends it early", asked.seconds));
    let measured = run.measure(|_| signals.asked().is_none())?;
    let text = if asked.json { json::measured(&measured) } else { words::measured(&measured) };
    say::answer(&text)?;
    Ok(match measured.verdict() {
        Some(Verdict::Good | Verdict::Fair) => Ended::Ok,
        Some(Verdict::Poor) | None => Ended::No,
    })
}

fn loopback(asked: Loopback, json: bool) -> Result<Ended, Failure> {
    let (out, input) = (asked.out.to_string(), asked.input.to_string());
    let caught = alarm::catch()?;
    let run = asked.start()?;
    let signals = alarm::watch(caught, run.switch())?;
    let trips = run.measure(|| signals.asked().is_none())?;
    if trips.trips.is_none() && !json {
        say::message(&words::nothing_came(&out, &input));
        return Ok(Ended::No);
    }
    say::answer(&if json { json::trips(&trips) } else { words::trips(&trips, &input) })?;
    Ok(if trips.trips.is_none() || trips.lost > 0 { Ended::No } else { Ended::Ok })
}
