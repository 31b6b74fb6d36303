//! The worked example of the script language, and what it must come to.
#![allow(missing_docs, reason = "tests")]

use ribwright_kernel::Registry;
use ribwright_kernel::sculpture::Meet;
use ribwright_scripts::run_text;

const EXAMPLE: &str = r#"
let rib = trapezoid(#{ pitch: 200, depth: 40, crest: 70, valley: 70, thickness: 2, bend_radius: 6 });
let s = sculpture("Slack Tide");
s.rules(#{ max_sides: 6, max_elements: 8 });          // the maker's own limits: findings, not crashes
s.joints(#{ kind: "auto", meet: "inside" });

let a = frustum("A", #{ sides: 5, base: 900, top: 700, height: 1100 });   // also: planes, hull, prism, slab
a.clad(rib);                                           // every face; ribs up the slope unless told
a.face("top").ribs(#{ along: [1, 0.3, 0], phase: 30 });
s.stand(a);                                            // on the ground

let b = planes("B", [
    #{ name: "east", point: [500,0,0], normal: [1,0.1,0.2] },
    #{ name: "west", point: [-500,0,0], normal: [-1,0,0] },
    #{ name: "north", point: [0,400,0], normal: [0,1,0] },
    #{ name: "south", point: [0,-400,0], normal: [0,-1,0] },
    #{ name: "foot", point: [0,0,0], normal: [0,0,-1] },
    #{ name: "top", point: [0,0,900], normal: [0,0.1,1] },
]);
b.clad(rib);
s.stack(b, #{ on: "A/top", sink: 120, shift: [60, -40], turn: 20, tip: 6, toward: 135 });
s
"#;

#[test]
fn the_worked_example_becomes_a_sculpture() {
    let sculpture = run_text("slack_tide.rhai", EXAMPLE, None, &Registry::standard())
        .unwrap_or_else(|e| panic!("{}", e.render(false)));
    assert_eq!(sculpture.name, "Slack Tide");
    let names: Vec<&str> = sculpture.elements.iter().map(|e| e.solid.name.as_str()).collect();
    assert_eq!(names, ["A", "B"]);
    assert_eq!(sculpture.joint.kind, "auto");
    assert_eq!(sculpture.joint.meet, Meet::Inside);
    assert_eq!((sculpture.rules.max_sides, sculpture.rules.max_elements), (Some(6), Some(8)));
    let (element, face) = sculpture.find_face("A/top").expect("A has a top");
    let top = &sculpture.elements[element].cladding[face];
    assert_eq!(top.phase, 30.0);
    assert_eq!(top.along.map(|a| [a.x, a.y, a.z]), Some([1.0, 0.3, 0.0]));
    assert!(
        sculpture.elements.iter().all(|e| e.cladding.iter().all(|c| c.profile.is_some())),
        "every face is clad"
    );
    let lowest = sculpture.elements[0].solid.lowest_z();
    assert!(lowest.abs() < 1e-9 * 1100.0, "A stands on the ground, not at {lowest}");
}
