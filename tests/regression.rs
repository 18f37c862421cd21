//! Regressions against published and independently computed values, each with its source in the row.

#![expect(clippy::unwrap_used, reason = "a reference that cannot be read is a failed test")]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use farpace::stats::maximise::{AscentRules, ascend};
use farpace::stats::regression::binomial::{BinomialFit, Link, NoBinomialFit, binomial_regression};
use farpace::stats::regression::censored::{Known, censored_regression};
use farpace::stats::regression::linear::{least_squares, median_slope};
use farpace::stats::special::{logistic, normal_cdf, normal_pdf};

/// Named columns of numbers.
struct Table(BTreeMap<String, Vec<f64>>);

impl Table {
    fn read(path: &Path) -> Self {
        let text = std::fs::read_to_string(path).unwrap();
        let mut lines = text.lines();
        let names: Vec<&str> = lines.next().unwrap().split(',').collect();
        let mut columns: BTreeMap<String, Vec<f64>> = names.iter().map(|n| ((*n).to_owned(), Vec::new())).collect();
        for line in lines {
            for (name, cell) in names.iter().zip(line.split(',')) {
                columns.get_mut(*name).unwrap().push(cell.parse().unwrap());
            }
        }
        Self(columns)
    }

    fn column(&self, name: &str) -> &[f64] {
        &self.0[name]
    }

    /// Rows of a constant and the named columns.
    fn rows(&self, names: &[&str]) -> Vec<Vec<f64>> {
        let n = self.0.values().next().unwrap().len();
        (0..n)
            .map(|i| {
                std::iter::once(1.0)
                    .chain(names.iter().map(|name| self.column(name)[i]))
                    .collect()
            })
            .collect()
    }
}

/// A row of checks: one value, with its tolerance.
struct Check {
    id: String,
    quantity: String,
    inputs: BTreeMap<String, String>,
    expected: String,
    tolerance: String,
}

impl Check {
    fn read(path: &Path) -> Vec<Self> {
        let mut reader = csv::Reader::from_path(path).unwrap();
        reader
            .records()
            .map(|record| record.unwrap())
            .map(|record| Self {
                id: record[0].to_owned(),
                quantity: record[1].to_owned(),
                inputs: record[2]
                    .split("; ")
                    .filter_map(|pair| pair.split_once('='))
                    .map(|(k, v)| (k.to_owned(), v.to_owned()))
                    .collect(),
                expected: record[3].to_owned(),
                tolerance: record[5].to_owned(),
            })
            .collect()
    }

    fn holds(&self, got: f64) {
        let wanted: f64 = self.expected.parse().unwrap();
        let allowed = match self.tolerance.strip_suffix(" rel") {
            Some(relative) => relative.parse::<f64>().unwrap() * wanted.abs(),
            None => self.tolerance.parse().unwrap(),
        };
        assert!(
            (got - wanted).abs() <= allowed,
            "{} {}: {got}, wanted {wanted} ± {allowed}",
            self.id,
            self.quantity
        );
    }
}

fn reference() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/regression")
}

fn table(name: &str) -> Table {
    Table::read(&reference().join(name))
}

fn checks(prefix: &str, file: &str) -> Vec<Check> {
    let all = Check::read(&reference().join("checks.csv"));
    let own: Vec<Check> = all
        .into_iter()
        .filter(|c| c.quantity.starts_with(prefix) && c.inputs.get("file").is_some_and(|f| f.ends_with(file)))
        .collect();
    assert!(!own.is_empty());
    own
}

fn position(names: &[&str], term: &str) -> usize {
    match term {
        "const" | "Intercept" => 0,
        _ => 1 + names.iter().position(|n| *n == term).unwrap(),
    }
}

#[test]
fn nist_norris() {
    let data = table("i_norris.csv");
    let fit = least_squares(&data.rows(&["x"]), data.column("y")).unwrap();
    for check in checks("ols", "i_norris.csv") {
        check.holds(match check.quantity.as_str() {
            "ols_intercept" => fit.coefficients[0],
            "ols_slope" => fit.coefficients[1],
            "ols_intercept_se" => fit.standard_error(0).unwrap(),
            "ols_slope_se" => fit.standard_error(1).unwrap(),
            "ols_residual_sd" => fit.residual_sd,
            other => panic!("no such quantity: {other}"),
        });
    }
}

#[test]
fn nist_longley() {
    let data = table("i_longley.csv");
    let names = ["GNPDEFL", "GNP", "UNEMP", "ARMED", "POP", "YEAR"];
    let fit = least_squares(&data.rows(&names), data.column("TOTEMP")).unwrap();
    for check in checks("ols", "i_longley.csv") {
        let i = position(&names, &check.inputs["term"]);
        check.holds(if check.quantity == "ols_se" {
            fit.standard_error(i).unwrap()
        } else {
            fit.coefficients[i]
        });
    }
}

#[test]
fn spector_by_logit_and_probit() {
    let data = table("i_spector.csv");
    let names = ["GPA", "TUCE", "PSI"];
    let ones = vec![1.0; data.column("GRADE").len()];
    for (prefix, link) in [("logit", Link::Logit), ("probit", Link::Probit)] {
        let fit = binomial_regression(&data.rows(&names), data.column("GRADE"), &ones, link).unwrap();
        for check in checks(prefix, "i_spector.csv") {
            let i = check.inputs.get("term").map(|term| position(&names, term));
            check.holds(match (check.quantity.rsplit('_').next().unwrap(), i) {
                ("coef", Some(i)) => fit.coefficients[i],
                // The rows give the observed information; for the logit, its own link, that is the expected one.
                ("se", Some(i)) if link == Link::Logit => fit.covariance[(i, i)].sqrt(),
                ("se", Some(i)) => observed_se(&data.rows(&names), data.column("GRADE"), &fit, i),
                ("loglik", None) => fit.log_likelihood,
                other => panic!("no such quantity: {other:?}"),
            });
        }
    }
}

/// Standard error of the probit from the observed information: sum of x x' λ(λ + z), λ = φ(z)/Φ(z), z = ±x'b by outcome
/// (W. H. Greene, Econometric Analysis).
fn observed_se(rows: &[Vec<f64>], y: &[f64], fit: &BinomialFit, i: usize) -> f64 {
    let p = fit.coefficients.len();
    let mut information = nalgebra::DMatrix::zeros(p, p);
    for (row, y) in rows.iter().zip(y) {
        let z = (2.0 * y - 1.0) * row.iter().zip(&fit.coefficients).map(|(x, b)| x * b).sum::<f64>();
        let ratio = normal_pdf(z) / normal_cdf(z);
        let x = nalgebra::DVector::from_row_slice(row);
        information += &x * x.transpose() * (ratio * (ratio + z));
    }
    information.try_inverse().unwrap()[(i, i)].sqrt()
}

#[test]
fn grouped_deliveries_by_three_links() {
    let data = table("i_delivery_grouped.csv");
    for (prefix, link) in [
        ("logit", Link::Logit),
        ("probit", Link::Probit),
        ("cloglog", Link::ComplementaryLogLog),
    ] {
        let fit = binomial_regression(&data.rows(&["snr_dB"]), data.column("k"), data.column("n"), link).unwrap();
        let [a, b] = fit.coefficients[..] else { panic!() };
        for check in checks(prefix, "i_delivery_grouped.csv") {
            check.holds(match check.quantity.split_once('_').unwrap().1 {
                "intercept" => a,
                "slope" => b,
                "intercept_se" => fit.covariance[(0, 0)].sqrt(),
                "slope_se" => fit.covariance[(1, 1)].sqrt(),
                "deviance" => fit.deviance,
                "x50" => -a / b,
                "x90" => (9.0_f64.ln() - a) / b,
                other => panic!("no such quantity: {other}"),
            });
        }
    }
}

#[test]
fn separated_successes_have_no_slope() {
    // A. Albert, J. A. Anderson 1984, Biometrika 71: no maximum exists.
    let rows: Vec<Vec<f64>> = [1.0, 2.0, 3.0, 4.0].iter().map(|x| vec![1.0, *x]).collect();
    for link in [Link::Logit, Link::Probit, Link::ComplementaryLogLog] {
        let fit = binomial_regression(&rows, &[0.0, 0.0, 5.0, 5.0], &[5.0; 4], link);
        assert_eq!(fit.unwrap_err(), NoBinomialFit::Separated, "{link:?}");
    }
    let alike: Vec<Vec<f64>> = vec![vec![1.0, 2.0]; 4];
    let fit = binomial_regression(&alike, &[1.0, 2.0, 3.0, 2.0], &[5.0; 4], Link::Logit);
    assert_eq!(fit.unwrap_err(), NoBinomialFit::Dependent);
}

#[test]
fn path_loss_by_least_squares_and_censored() {
    let data = table("i_pathloss_censored.csv");
    let x: Vec<f64> = data.column("d_m").iter().map(|d| 10.0 * d.log10()).collect();
    let rows: Vec<Vec<f64>> = x.iter().map(|x| vec![1.0, *x]).collect();
    let loss = data.column("loss_dB");
    let censored = data.column("censored");
    let known: Vec<Known> = loss
        .iter()
        .zip(censored)
        .map(|(y, c)| {
            if *c > 0.0 {
                Known::AtLeast(*y)
            } else {
                Known::Exactly(*y)
            }
        })
        .collect();
    let (kept, kept_loss): (Vec<_>, Vec<f64>) = (0..rows.len())
        .filter(|&i| censored[i] == 0.0)
        .map(|i| (rows[i].clone(), loss[i]))
        .unzip();
    let all = least_squares(&rows, loss).unwrap();
    let dropped = least_squares(&kept, &kept_loss).unwrap();
    let tobit = censored_regression(&rows, &known).unwrap();
    for check in checks("pathloss", "i_pathloss_censored.csv") {
        let predicted = || {
            let distance: f64 = check.inputs["d_m"].parse().unwrap();
            all.predict(&[1.0, 10.0 * distance.log10()]).unwrap()
        };
        check.holds(match check.quantity.trim_start_matches("pathloss_") {
            "ols_L0_at_1m" => all.coefficients[0],
            "ols_exponent" => all.coefficients[1],
            "ols_L0_se" => all.standard_error(0).unwrap(),
            "ols_exponent_se" => all.standard_error(1).unwrap(),
            "ols_r_squared" => all.r_squared.unwrap(),
            "ols_fit" => predicted().mean,
            "ols_mean95_lower" => predicted().mean - predicted().mean_half,
            "ols_mean95_upper" => predicted().mean + predicted().mean_half,
            "ols_prediction95_lower" => predicted().mean - predicted().single_half,
            "ols_prediction95_upper" => predicted().mean + predicted().single_half,
            "dropcens_L0_at_1m" => dropped.coefficients[0],
            "dropcens_sigma" => dropped.residual_sd,
            "tobit_L0_at_1m" => tobit.coefficients[0],
            "tobit_loglik" => tobit.log_likelihood,
            "tobit_L0_se" => tobit.covariance[(0, 0)].sqrt(),
            "tobit_exponent_se" => tobit.covariance[(1, 1)].sqrt(),
            "tobit_log_scale_se" => tobit.covariance[(2, 2)].sqrt(),
            other => panic!("no such quantity: {other}"),
        });
    }
    for check in checks("theil_sen", "i_pathloss_censored.csv") {
        check.holds(median_slope(&x, loss).unwrap());
    }
    assert_eq!(tobit.count.1, censored.iter().filter(|c| **c > 0.0).count());
}

/// The check files beside the project, where they are there: what they carry may not be copied here.
fn beside() -> Option<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/checks");
    let there = folder.join("i_regression.csv").exists();
    if !there {
        println!("skipped: no {}", folder.display());
    }
    there.then_some(folder)
}

#[test]
fn tobin_and_fair() {
    let Some(folder) = beside() else { return };
    for (file, y, names) in [
        ("i_tobin.csv", "durable", &["age", "quant"][..]),
        (
            "i_affairs.csv",
            "affairs",
            &["age", "yearsmarried", "religiousness", "occupation", "rating"][..],
        ),
    ] {
        let data = Table::read(&folder.join("data").join(file));
        let known: Vec<Known> = data
            .column(y)
            .iter()
            .map(|y| {
                if *y <= 0.0 {
                    Known::AtMost(0.0)
                } else {
                    Known::Exactly(*y)
                }
            })
            .collect();
        let fit = censored_regression(&data.rows(names), &known).unwrap();
        let mut seen = 0;
        for check in Check::read(&folder.join("i_regression.csv")) {
            if !check.inputs.get("file").is_some_and(|f| f.ends_with(file)) {
                continue;
            }
            let i = check.inputs.get("term").map(|term| position(names, term));
            check.holds(match (check.quantity.as_str(), i) {
                ("tobit_coef", Some(i)) => fit.coefficients[i],
                ("tobit_se", Some(i)) => fit.covariance[(i, i)].sqrt(),
                ("tobit_loglik", None) => fit.log_likelihood,
                ("tobit_scale", None) => fit.scale,
                other => panic!("no such quantity: {other:?}"),
            });
            seen += 1;
        }
        assert!(seen >= 5, "{file}: {seen}");
    }
}

#[test]
fn the_ascent_reaches_the_published_logit_too() {
    let data = table("i_spector.csv");
    // Covariates about their middle and of like size: the ascent is not indifferent to units.
    let rows: Vec<[f64; 4]> = (0..data.column("GRADE").len())
        .map(|i| {
            let (gpa, tuce, psi) = (data.column("GPA")[i], data.column("TUCE")[i], data.column("PSI")[i]);
            [1.0, 2.0 * (gpa - 3.1), (tuce - 22.0) / 4.0, 2.0 * (psi - 0.5)]
        })
        .collect();
    let top = ascend(
        |b| {
            rows.iter()
                .zip(data.column("GRADE"))
                .map(|(row, y)| {
                    let eta: f64 = row.iter().zip(b).map(|(x, b)| x * b).sum();
                    logistic(if *y > 0.5 { eta } else { -eta }).ln()
                })
                .sum()
        },
        &[0.0; 4],
        &AscentRules {
            difference: &[1e-3; 4],
            longest_step: &[],
            rounds: 100,
            gain: 1e-12,
        },
    )
    .unwrap();
    let [a, gpa, tuce, psi] = top.at[..] else { panic!() };
    let published = [a - 6.2 * gpa - 5.5 * tuce - psi, 2.0 * gpa, tuce / 4.0, 2.0 * psi];
    // W. H. Greene, Econometric Analysis: -13.021, 2.826, 0.095, 2.379 (from memory).
    for (got, wanted) in published.iter().zip([-13.021, 2.826, 0.095, 2.379]) {
        assert!((got - wanted).abs() < 6e-4, "{published:?}");
    }
}

#[test]
fn what_cannot_be_regressed_is_refused() {
    let rows = vec![vec![1.0, 2.0], vec![1.0, 2.0], vec![1.0, 2.0]];
    assert!(least_squares(&rows, &[1.0, 2.0, 3.0]).is_none());
    assert!(least_squares(&rows[..2], &[1.0, 2.0]).is_none());
    assert!(least_squares(&[], &[]).is_none());
    assert!(median_slope(&[1.0, 1.0], &[2.0, 3.0]).is_none());
    assert!(censored_regression(&rows, &[Known::AtLeast(1.0); 3]).is_none());
    assert!(binomial_regression(&rows, &[6.0; 3], &[5.0; 3], Link::Logit).is_err());
}
