//! Delivery intervals and verdicts of a session of eight stops, worked out apart from this program with numpy and scipy.
//!
//! One value, the evidence of 0 of 50 at a goal of 90 %, is from a direct integration instead (Simpson's rule, 200,000 steps):
//! one minus a distribution function had cost the other all but three digits.

use crate::{close, number, reference};
use farpace::stats::burst::{BurstMemory, INTERVAL_PRIOR, Outcomes, VERDICT_PRIOR, delivery};
use farpace::stats::proportions::wilson;
use farpace::stats::verdict::evidence;

#[test]
fn a_session_of_stops() {
    let reference = reference("a_delivery");
    let mut session = BurstMemory::default();
    let stops = reference["session"].as_array().unwrap();
    assert_eq!(stops.len(), 8);
    for stop in stops {
        let outcomes: Outcomes = stop["ok"]
            .as_array()
            .unwrap()
            .iter()
            .map(|ok| ok.as_u64() == Some(1))
            .collect();
        let with_running = session.with(&outcomes);
        session.add(&outcomes);
        assert_eq!(with_running, session);
        close(
            session.measured_inflation().unwrap_or(0.0),
            number(&stop["raw_vif"]),
            "measured inflation",
        );
        close(session.inflation(INTERVAL_PRIOR), number(&stop["vif"]), "inflation");
        close(
            session.inflation(VERDICT_PRIOR),
            number(&stop["verdict_vif"]),
            "inflation for the verdict",
        );
        assert_eq!(Some(session.loss_runs()), stop["runs"].as_u64());
        let (k, n) = (outcomes.delivered(), outcomes.exchanges());
        assert_eq!((Some(k), Some(n)), (stop["k"].as_u64(), stop["n"].as_u64()));
        let got = delivery(k, n, &session, 0.95).unwrap();
        close(got.effective, number(&stop["n_eff"]), "effective");
        close(got.interval.low, number(&stop["lo"]), "low");
        close(got.interval.high, number(&stop["hi"]), "high");
        if let Some(plain) = wilson(k, n, 0.95) {
            close(plain.low, number(&stop["wilson"][0]), "plain low");
            close(plain.high, number(&stop["wilson"][1]), "plain high");
        }
        let got = evidence(k, n - k, session.inflation(VERDICT_PRIOR), 0.95).unwrap();
        close(got.meets, number(&stop["log_e_meets"]), "evidence for meets");
        close(got.fails, number(&stop["log_e_fails"]), "evidence for fails");
    }
}

#[test]
fn evidence_agrees() {
    for case in reference("a_delivery")["log_e"].as_array().unwrap() {
        let got = evidence(
            case["k"].as_u64().unwrap(),
            case["l"].as_u64().unwrap(),
            number(&case["vif"]),
            number(&case["goal"]),
        )
        .unwrap();
        close(got.meets, number(&case["log_e"][0]), "meets");
        close(got.fails, number(&case["log_e"][1]), "fails");
    }
}
