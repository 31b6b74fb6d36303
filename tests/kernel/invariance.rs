//! The same work elsewhere, turned, again, and on other numbers of threads.

use nalgebra::{Rotation3, Vector3};
use ribwright_kernel::{Registry, Work, work_out};
use ribwright_tests::works::random_work;
use ribwright_tests::{Case, Differences, Random, references};

#[track_caller]
fn worked_out(case: &Case, joint: &str) -> Work {
    case.sculpture(joint)
        .and_then(|sculpture| work_out(&sculpture, &Registry::standard()))
        .unwrap_or_else(|e| panic!("{joint}: {e}"))
}

#[track_caller]
fn same_figures(what: &str, one: &Work, other: &Work) {
    let mut differences = Differences::default();
    differences.figure("volume", other.volume, one.volume);
    differences.figure("area", other.area, one.area);
    differences.figure("mass", other.mass, one.mass);
    let ids = |work: &Work| work.seams.iter().map(|s| s.id.clone()).collect::<Vec<_>>();
    assert_eq!(ids(one), ids(other), "{what}: the list of seams");
    for (a, b) in one.seams.iter().zip(&other.seams) {
        assert_eq!(a.joint, b.joint, "{what}: {}", a.id);
        differences.figure(&format!("{} length", a.id), b.length, a.length);
    }
    for (a, b) in one.faces.iter().zip(&other.faces) {
        differences.figure(&format!("{} area", a.id), b.area, a.area);
    }
    assert!(differences.lines.is_empty(), "{what}:\n{}", differences.lines.join("\n"));
}

#[test]
fn works_ten_kilometres_away_and_turned_have_the_same_figures() {
    let mut random = Random::new(10);
    for (name, body) in references().into_iter().step_by(2) {
        for joint in ["true", "mitre", "auto"] {
            let here = worked_out(&body.case, joint);
            let turn = Rotation3::from_scaled_axis(random.direction() * random.between(0.1, 3.0));
            let far = random.direction() * 1.0e7;
            let away = worked_out(&body.case.moved(&Rotation3::identity(), far), joint);
            same_figures(&format!("{name}, {joint}, 10 km away"), &here, &away);
            let turned = worked_out(&body.case.moved(&turn, Vector3::zeros()), joint);
            same_figures(&format!("{name}, {joint}, turned"), &here, &turned);
            let both = worked_out(&body.case.moved(&turn, far), joint);
            same_figures(&format!("{name}, {joint}, turned and 10 km away"), &here, &both);
        }
    }
}

/// Everything a work holds, to the last bit: the debug text of a number names it exactly.
fn whole(work: &Work) -> String {
    format!("{work:?}")
}

#[test]
fn working_out_twice_gives_the_same_to_the_last_bit() {
    let mut compared = 0;
    for seed in 0..30 {
        let Ok(sculpture) = random_work(seed) else { continue };
        let registry = Registry::standard();
        let (Ok(one), Ok(other)) = (work_out(&sculpture, &registry), work_out(&sculpture, &registry)) else {
            continue;
        };
        assert!(whole(&one) == whole(&other), "work {seed} differs from run to run");
        compared += 1;
    }
    assert!(compared >= 20, "only {compared} works were compared");
}

#[test]
fn one_thread_and_two_give_the_same_to_the_last_bit() {
    let on = |threads: usize, case: &Case| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap_or_else(|e| panic!("a pool of {threads}: {e}"));
        pool.install(|| whole(&worked_out(case, "auto")))
    };
    for (name, body) in references().into_iter().step_by(3) {
        let one = on(1, &body.case);
        assert!(one == on(2, &body.case), "{name} differs between 1 and 2 threads");
        assert!(one == on(3, &body.case), "{name} differs between 1 and 3 threads");
    }
}
